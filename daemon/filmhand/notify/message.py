"""What is told, and the message that tells it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import asdict, field
from typing import Any

from filmhand.disk import file_names, forms
from filmhand.notify.notify_words import MessageWord, NewsCount, WarningCount
from filmhand.profile.notifying import NewsKind
from filmhand.values import dataclass

_MOST_NAMED = 20  # that a message tells one by one
_LONGEST_SUBJECT = 120
_LONGEST_SENTENCE = 1000
_HEADS = {
    NewsKind.REFUSED: MessageWord.REFUSED,
    NewsKind.WARNED: MessageWord.WARNED,
    NewsKind.HELD: MessageWord.HELD,
}


@dataclass(frozen=True, slots=True)
class News:
    """One thing to tell: of which kind, of what name, what it is, and what to do.

    No byte of a customer's file is in it but its name.
    """

    kind: NewsKind
    profile: str
    name: str
    say: str
    do: str = ""

    @classmethod
    def of(cls, kind: NewsKind, profile: str, name: str, say: str, do: str = "") -> News:
        """News with each part on one line, as people may see it."""
        parts = [_one_line(part) for part in (name, say, do)]
        return cls(kind, profile, *parts)

    def lines(self) -> list[str]:
        """The paragraph that tells it."""
        row = _HEADS.get(self.kind)
        head = self.name if row is None else row.say(name=self.name)
        return [head, *(f"  {part}" for part in (self.say, self.do) if part), ""]


@dataclass(slots=True)
class Digest:
    """What waits to be told: the first by name, the rest as counts, so that it stays small."""

    named: list[News] = field(default_factory=list)
    more: Counter[NewsKind] = field(default_factory=Counter)

    def __bool__(self) -> bool:
        return bool(self.named or self.more)

    def add(self, news: News) -> None:
        """One more."""
        if len(self.named) < _MOST_NAMED:
            self.named.append(news)
        else:
            self.more[news.kind] += 1

    def before(self, later: Digest) -> Digest:
        """Both, this one first."""
        both = Digest(list(self.named), self.more + later.more)
        for news in later.named:
            both.add(news)
        return both

    def counts(self) -> Counter[NewsKind]:
        """How many of each kind."""
        return self.more + Counter(news.kind for news in self.named)

    def as_json(self) -> dict[str, Any]:
        """For the state folder."""
        named = [asdict(news) | {"kind": str(news.kind)} for news in self.named]
        return {"named": named, "more": {str(kind): n for kind, n in self.more.items()}}

    @classmethod
    def from_json(cls, data: Any) -> Digest:
        """What :meth:`as_json` gave; ValueError for anything else."""
        told = _DIGEST(data)
        named = [
            News.of(NewsKind(one["kind"]), one["profile"], one["name"], one["say"], one["do"])
            for one in told["named"]
        ]
        more = {NewsKind(kind): int(count) for kind, count in told["more"].items()}
        if any(count < 1 for count in more.values()):
            raise ValueError("a count below one")
        return cls(named, Counter(more))


_TEXT = forms.text(longest=_LONGEST_SENTENCE)
_DIGEST = forms.record(
    {
        "named": forms.several(
            forms.record(
                {"kind": _TEXT, "profile": _TEXT, "name": _TEXT, "say": _TEXT, "do": _TEXT}
            ),
            most=_MOST_NAMED,
        ),
        "more": forms.table(forms.text(longest=40), forms.anything, most=len(NewsKind)),
    }
)


@dataclass(frozen=True, slots=True)
class Message:
    """What goes out: one line, and plain text. ``facts`` is the same for programs."""

    subject: str
    text: str
    facts: dict[str, Any]


def message_of(
    digest: Digest, *, profile: str, station: str, computer: str, link: str | None
) -> Message:
    """The message that tells all of a digest."""
    counts = digest.counts()
    told = _all_counted(counts)
    subject = MessageWord.SUBJECT.say(profile=profile, told=told)
    if len(digest.named) == 1 and not digest.more:
        name = digest.named[0].name
        subject = MessageWord.SUBJECT_NAMED.say(profile=profile, told=told, name=name)
    lines = [MessageWord.FROM.say(profile=profile, station=station, told=told), ""]
    for news in digest.named:
        lines += news.lines()
    if digest.more:
        lines += [MessageWord.BESIDES.say(told=_all_counted(digest.more)), ""]
    lines.append(_where(computer, link))
    facts = {
        "schema": "filmhand-message/1",
        "profile": profile,
        "station": station,
        "computer": computer,
        "counts": {str(kind): count for kind, count in counts.items()},
        "news": [asdict(news) for news in digest.named],
        "link": link,
    }
    return Message(_cut(_one_line(subject), _LONGEST_SUBJECT), "\n".join(lines) + "\n", facts)


def trial_message(*, profile: str, station: str, computer: str, link: str | None) -> Message:
    """What `doctor --notify` sends."""
    subject = MessageWord.TRIAL_SUBJECT.say(profile=profile)
    trial = MessageWord.TRIAL.say(profile=profile, station=station)
    text = f"{trial}\n\n{_where(computer, link)}\n"
    facts: dict[str, Any] = {
        "schema": "filmhand-message/1",
        "profile": profile,
        "station": station,
        "computer": computer,
        "trial": True,
        "link": link,
    }
    return Message(_cut(_one_line(subject), _LONGEST_SUBJECT), text, facts)


def sentences_of(warnings: Iterable[str]) -> str:
    """Warnings of a film as one paragraph."""
    all_of_them = list(warnings)
    told, more = " ".join(all_of_them[:3]), len(all_of_them) - 3
    return WarningCount.MORE.say(more, told=told) if more > 0 else told


def _where(computer: str, link: str | None) -> str:
    if link:
        return MessageWord.COMPUTER_AND_PAGE.say(computer=computer, link=link)
    return MessageWord.COMPUTER.say(computer=computer)


def _all_counted(counts: Counter[NewsKind]) -> str:
    return ", ".join(NewsCount[kind.name].say(counts[kind]) for kind in NewsKind if counts[kind])


def _one_line(text: str) -> str:
    """The text without anything that could end a line or a header."""
    shown = " ".join(file_names.shown(text).split())
    return _cut("".join(c if c.isprintable() else "?" for c in shown), _LONGEST_SENTENCE)


def _cut(text: str, longest: int) -> str:
    return text if len(text) <= longest else text[: longest - 1] + "…"
