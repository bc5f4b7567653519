"""Square brackets in the name of a file: where they stand, what they hold, names without them."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from filmhand.profile.ticket.wish_reading import LONGEST_READ, readings
from filmhand.profile.ticket.wish_words import normal
from filmhand.values import dataclass

LONGEST_NAME = 255
"""Bytes of a name, on every common file system."""
_ENDING = re.compile(r"\.[A-Za-z]\w{0,5}$")
# Square brackets as they are, and as wide as the letters of Chinese and Japanese.
_OPENING, _CLOSING = "[\uff3b", "]\uff3d"


@dataclass(frozen=True, slots=True)
class NameBrackets:
    """Brackets within a name.

    Attributes
    ----------
    start, end : where they stand in the name, themselves counted
    inside : what they hold, brackets within them as commas
    opened, closed : whether both brackets are there
    """

    start: int
    end: int
    inside: str
    opened: bool = True
    closed: bool = True

    @property
    def whole(self) -> bool:
        """Whether both brackets are there."""
        return self.opened and self.closed

    def as_written(self, text: str) -> str:
        """A part of what the brackets hold, in the letters of the name where it is found there."""
        words = r"[\s_]*".join(map(re.escape, text.split()))
        found = re.search(words, self.inside, re.IGNORECASE)
        return found[0] if found else text


def groups_in(name: str) -> Iterator[NameBrackets]:
    """The outermost brackets of a name; one that is never closed ends where the stem ends."""
    ending = _ENDING.search(name)
    end = ending.start() if ending else len(name)
    opened, depth, after = 0, 0, 0
    for place, letter in enumerate(name[:end]):
        if letter in _OPENING:
            opened, depth = (opened if depth else place), depth + 1
        elif letter in _CLOSING:
            if not depth:
                yield from _unopened(name, after, place)
            elif depth == 1:
                yield NameBrackets(opened, place + 1, _flat(name[opened + 1 : place]))
            depth = max(0, depth - 1)
            after = after if depth else place + 1
    if depth:
        yield NameBrackets(opened, end, _flat(name[opened + 1 : end]), closed=False)


def _unopened(name: str, start: int, end: int) -> Iterator[NameBrackets]:
    """The last words before a bracket that was never opened, as many as are a wish."""
    start = max(start, end - LONGEST_READ)
    for word in re.finditer(r"\S+", name[start:end]):
        first = start + word.start()
        if readings(normal(name[first:end])):
            yield NameBrackets(first, end + 1, name[first:end], opened=False)
            return


def _flat(inside: str) -> str:
    return re.sub(f"[{re.escape(_OPENING + _CLOSING)}]", ",", inside).strip(", ")


def named(name: str, texts: Mapping[NameBrackets, str]) -> str:
    """The name with other texts in place of some brackets, no longer than a name may be."""
    new = _with_texts(name, texts)
    if len(new.encode(errors="replace")) > LONGEST_NAME:
        new = _with_texts(name, {group: re.sub(r"\(.*\)", "", texts[group]) for group in texts})
    return new


def with_brackets(name: str, inside: str) -> str:
    """The name with brackets more, before its ending.

    >>> with_brackets("banner.gif", "2.6 in")
    'banner [2.6 in].gif'
    """
    ending = _ENDING.search(name)
    end = ending.start() if ending else len(name)
    return f"{name[:end].rstrip()} [{inside}]{name[end:]}"


def _with_texts(name: str, texts: Mapping[NameBrackets, str]) -> str:
    for group in sorted(texts, key=lambda one: -one.start):
        before, after = name[: group.start], name[group.end :]
        text = texts[group]
        if text and before and before[-1].isalnum():
            text = f" {text}"
        if not text and (not after or after[0] in " .") and before.strip():
            before = before.rstrip()
        name = before + text + after
    return name.strip() if name.strip(". ") else "art"
