"""When messages go out: one a minute, a digest after, growing pauses, nothing without bound."""

from __future__ import annotations

import json
import threading
from pathlib import Path
from typing import Any

import pytest

from filmhand.language import speaking, spoken
from filmhand.notify.delivery import Delivery
from filmhand.notify.message import Digest, Message, News, message_of
from filmhand.notify.notifier import Notifier
from filmhand.notify.notify_words import MessageWord
from filmhand.notify.printer_news import PrinterNews
from filmhand.notify.secret import NotifyTrouble
from filmhand.notify.targets import Target
from filmhand.profile.notifying import NewsKind, NotifyWishes


def news(number: int = 1, kind: NewsKind = NewsKind.REFUSED) -> News:
    return News.of(kind, "small", f"{number}.gif", "It is too small.", "Send a larger one.")


def compose(digest: Digest) -> Message:
    return message_of(digest, profile="small", station="films", computer="here", link=None)


class Post:
    """A target that keeps what it is told, and the clock that goes with it."""

    def __init__(self) -> None:
        self.now = 1000.0
        self.got: list[Message] = []
        self.fails: Exception | None = None
        self.answers = threading.Event()
        self.answers.set()
        self.said: list[tuple[str, dict[str, object]]] = []
        target = Target("hook", "the web hook", self.send)
        self.delivery = Delivery(
            target, compose, lambda event, **facts: self.said.append((event, facts)),
            clock=lambda: self.now,
        )  # fmt: skip

    def send(self, message: Message) -> None:
        assert self.answers.wait(600)
        if self.fails is not None:
            raise self.fails
        self.got.append(message)

    def look(self) -> None:
        """Twice, with the call in between."""
        self.delivery.look(self.now)
        if self.answers.is_set():
            self.delivery.finish(20)
            self.delivery.look(self.now)

    def pass_by(self, seconds: float) -> None:
        """Let time go by, a second at a time, as the service's loop looks."""
        for _ in range(int(seconds)):
            self.now += 1
            self.look()


@pytest.fixture
def post() -> Post:
    return Post()


def test_the_first_goes_out_at_once_and_the_rest_as_one_after_a_minute(post: Post) -> None:
    post.delivery.add(news(1))
    post.look()
    assert len(post.got) == 1 and "1 refused: 1.gif" in post.got[0].subject
    for number in range(2, 200):
        post.delivery.add(news(number))
        post.look()
    post.pass_by(58)
    assert len(post.got) == 1
    post.pass_by(3)
    assert len(post.got) == 2
    text = post.got[1].text
    assert "198 refused" in post.got[1].subject
    assert [f"{number}.gif" in text for number in (2, 21, 22)] == [True, True, False]
    assert "Besides these: 178 refused." in text
    post.pass_by(300)
    assert len(post.got) == 2


def test_an_hour_of_steady_news_is_at_most_one_message_a_minute(post: Post) -> None:
    for number in range(3600):
        post.delivery.add(news(number))
        post.pass_by(1)
    assert 55 <= len(post.got) <= 60


def test_what_fails_is_tried_again_with_growing_pauses_and_nothing_is_lost(post: Post) -> None:
    post.fails = NotifyTrouble("example.org: connection refused")
    tries = 0
    real = post.send

    def counted(message: Message) -> None:
        nonlocal tries
        tries += 1
        real(message)

    object.__setattr__(post.delivery.target, "send", counted)
    post.delivery.add(news(1))
    post.pass_by(3600)
    # No pause is shorter than a minute, and none longer than five.
    assert 12 <= tries <= 20
    assert "connection refused" in post.delivery.trouble()
    assert f"tried {tries} times" in post.delivery.trouble()
    post.delivery.add(news(2))
    post.fails = None
    post.pass_by(301)
    assert post.delivery.trouble() == ""
    assert [len(message.facts["news"]) for message in post.got] == [2]
    events = [event for event, _ in post.said]
    assert events.count("message not sent") <= 5 and events[-1] == "messages go out again"


def test_a_target_that_hangs_holds_one_thread_and_piles_nothing_up(post: Post) -> None:
    post.answers.clear()
    before = threading.active_count()
    for number in range(5000):
        post.delivery.add(news(number))
        post.now += 1
        post.delivery.look(post.now)
    assert threading.active_count() == before + 1
    assert "has not answered for a minute" in post.delivery.trouble()
    assert len(json.dumps(post.delivery.as_json())) < 20_000
    post.answers.set()
    post.delivery.finish(20)
    post.look()
    post.pass_by(61)
    assert sum(sum(message.facts["counts"].values()) for message in post.got) == 5000


def test_an_error_that_is_not_ours_is_told_by_its_kind_alone(post: Post) -> None:
    post.fails = RuntimeError("https://hooks.example.org/hunter2")
    post.delivery.add(news())
    post.look()
    assert "hunter2" not in post.delivery.trouble() + str(post.said)
    assert "RuntimeError" in post.delivery.trouble()


WISHES = NotifyWishes(hook="http://127.0.0.1:9/films")


def notifier(tmp_path, post: Post, monkeypatch, **wishes) -> Notifier:
    target = Target("hook", "the web hook", post.send)
    monkeypatch.setattr("filmhand.notify.notifier.targets_of", lambda wishes: [target])
    made = Notifier(
        tmp_path, "films", lambda *_, **__: None, clock=lambda: post.now, now=lambda: post.now
    )
    made.arrange({"small": NotifyWishes(hook=WISHES.hook, **wishes), "other": None})
    return made


def test_a_restart_loses_nothing_and_tells_no_sooner(tmp_path, monkeypatch, post: Post) -> None:
    first = notifier(tmp_path, post, monkeypatch)
    first.tell(news(1))
    first.look()
    first.finish(20)
    first.tell(news(2))
    first.look()
    post.now += 10
    again = notifier(tmp_path, post, monkeypatch)
    again.look()
    again.finish(20)
    assert len(post.got) == 1
    post.now += 51
    again.look()
    again.finish(20)
    assert [message.facts["news"][0]["name"] for message in post.got] == ["1.gif", "2.gif"]


def test_what_was_on_its_way_when_the_service_died_is_told_again(
    tmp_path, monkeypatch, post: Post
) -> None:
    post.answers.clear()
    first = notifier(tmp_path, post, monkeypatch)
    first.tell(news(1))
    first.look()
    kept = json.loads((tmp_path / "notify.json").read_text())
    assert "1.gif" in json.dumps(kept)
    post.answers.set()
    first.finish(20)
    assert "1.gif" not in (tmp_path / "notify.json").read_text()


@pytest.mark.parametrize("kept", ["", "{", "[]", '{"schema": "filmhand-notify/1", "targets": {'
    '"small/hook": {"sent_at": 1e999, "waiting": {"named": 7, "more": {}}}}}',
    '{"schema": "filmhand-notify/1", "targets": {"small/hook": {"sent_at": 99999999999.0, '
    '"waiting": {"named": [], "more": {"refused": -3}}}}}'])  # fmt: skip
def test_a_forged_or_broken_state_file_is_passed_over(
    tmp_path, monkeypatch, post: Post, kept: str
) -> None:
    (tmp_path / "notify.json").write_text(kept)
    made = notifier(tmp_path, post, monkeypatch)
    made.tell(news(1))
    post.now += 61
    made.look()
    made.finish(20)
    assert len(post.got) == 1 and len(post.got[0].facts["news"]) == 1


def test_only_what_is_asked_for_is_told(tmp_path, monkeypatch, post: Post) -> None:
    made = notifier(tmp_path, post, monkeypatch, about=(NewsKind.WARNED,))
    made.tell(news(1, NewsKind.REFUSED))
    made.tell(news(2, NewsKind.WARNED))
    made.tell(News.of(NewsKind.WARNED, "other", "3.gif", "", ""))
    made.look()
    made.finish(20)
    assert [one["name"] for one in post.got[0].facts["news"]] == ["2.gif"]


def test_a_profile_that_is_changed_keeps_what_waits(tmp_path, monkeypatch, post: Post) -> None:
    made = notifier(tmp_path, post, monkeypatch)
    made.tell(news(1))
    made.arrange({"small": NotifyWishes(hook="http://127.0.0.1:9/other")})
    made.arrange({"small": None})
    made.look()
    assert post.got == []
    made.arrange({"small": WISHES})
    made.look()
    made.finish(20)
    assert len(post.got) == 1


PRINTER = {
    "printer": "ipp://film", "profiles": ["small", "large"], "why": None, "printing": [],
    "held": [], "doubtful": [],
}  # fmt: skip


class Stayed(PrinterNews):
    """News of what has stayed for long."""

    def __init__(self) -> None:
        self.now = 0.0
        super().__init__(lambda: self.now)

    def after_a_minute(self, told: dict[str, object]) -> list[News]:
        early = self.of([told])
        self.now += 60
        return early + self.of([told])


def test_printer_trouble_is_told_once_and_again_when_it_comes_back() -> None:
    printers = Stayed()
    stopped = PRINTER | {"why": "the tray is empty"}
    assert [one.profile for one in printers.after_a_minute(stopped)] == ["small", "large"]
    assert printers.after_a_minute(stopped) == []
    assert printers.after_a_minute(PRINTER) == []
    assert len(printers.after_a_minute(stopped)) == 2


def test_a_printer_that_wakes_up_is_no_news() -> None:
    printers = Stayed()
    for why in ("the fuser is not hot yet", "it is asleep", None):
        assert printers.of([PRINTER | {"why": why}]) == []
        printers.now += 59


LOW = PRINTER | {
    "profiles": ["small"], "why": "a tray is nearly empty", "film_low": True,
    "printing": [{"film": "a"}],
}  # fmt: skip


def test_film_that_runs_low_is_a_kind_of_its_own_and_told_at_once() -> None:
    printers = Stayed()
    (one,) = printers.of([LOW])
    assert (one.kind, one.do) == (NewsKind.FILM_LOW, "Put film in before the tray is empty.")
    (other,) = Stayed().after_a_minute(LOW | {"film_low": False})
    assert other.kind is NewsKind.PRINTER


def test_film_that_is_low_is_told_again_only_after_somebody_put_some_in() -> None:
    printers = Stayed()
    resting = LOW | {"why": None, "film_low": False, "printing": []}
    full = LOW | {"why": None, "film_low": False}
    assert len(printers.of([LOW])) == 1
    for told in (LOW, resting, LOW | {"why": "toner is low, a tray is nearly empty"}, resting):
        assert printers.after_a_minute(told) == []
    assert printers.of([full]) == []
    assert len(printers.of([LOW])) == 1


def test_films_that_may_have_been_printed_are_told_with_what_to_do() -> None:
    doubtful = [{"profile": "small", "film": "poster.pdf", "why": "Nobody knows.", "do": "Look."}]
    (one,) = Stayed().after_a_minute(PRINTER | {"doubtful": doubtful})
    assert (one.kind, one.do) == (NewsKind.PRINTER, "Look.")
    assert "poster.pdf is doubtful" in one.lines()[0]


def test_messages_speak_the_language_of_their_profile(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    heard: list[tuple[str, str]] = []

    def heard_message(digest: Digest, *, profile: str, **more: Any) -> Message:
        heard.append((profile, spoken()))
        return message_of(digest, profile=profile, **more)

    monkeypatch.setattr("filmhand.notify.notifier.message_of", heard_message)
    notifier = Notifier(tmp_path, "films", lambda event, **facts: None)
    wishes = NotifyWishes(hook="http://127.0.0.1:1/films")
    notifier.arrange({"small": wishes, "large": wishes}, {"small": "es", "large": None})
    for profile in ("small", "large"):
        notifier.tell(News.of(NewsKind.REFUSED, profile, "a.gif", "It is too small."))
    notifier.finish(20)
    assert heard == [("small", "es"), ("large", "en")]


def test_printers_are_told_of_in_the_language_of_each_profile() -> None:
    printers = Stayed()
    stopped = PRINTER | {"why": "the tray is empty"}
    printers.of([stopped])
    printers.now += 60
    told = printers.of([stopped], {"small": "es"})
    with speaking("es"):
        spanish = MessageWord.PRINTER_IS.say(printer="ipp://film")
    assert [one.name for one in told] == [spanish, "The printer ipp://film"]
