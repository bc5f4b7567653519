"""Which settled art waits for company, how long, and who goes on one sheet together."""

from __future__ import annotations

import os
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from filmhand.disk.beneath import Beneath
from filmhand.errors import Reason, Refused
from filmhand.intake.scan import Bundle, Found
from filmhand.profile.ticket.gang import GangWishes
from filmhand.queue.batch_window import BatchWindow
from filmhand.queue.task import ClaimOne, ClaimTogether, MeasureSheet
from filmhand.queue.triage import FolderView, WaitingArt
from filmhand.request import SheetSpace

GANG = GangWishes(wait=600.0, most=4)
PROFILE: dict[str, Any] = {"name": "small"}


class Window:
    """Art in a folder, and what becomes of it at each look."""

    def __init__(self, folder: Path, *, patient: bool = True, measures: bool = True) -> None:
        self.folder = Beneath(folder)
        self.now = 1000.0
        self.noon = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)
        self.window = BatchWindow(
            lambda: self.now,
            lambda: self.noon + timedelta(seconds=self.now - 1000),
            patient=patient,
            measures=measures,
        )

    def art(self, name: str, ticket: str | None = None) -> Bundle:
        *sub, own = name.split("/")
        folder = self.folder.joinpath(*sub)
        folder.mkdir(parents=True, exist_ok=True)
        found = [self._file(folder / own, tuple(sub), "art")]
        if ticket is not None:
            found.append(self._file(folder / f"{own}.ticket.yaml", tuple(sub), ticket))
        return Bundle(*found)

    def _file(self, path: Beneath, sub: tuple[str, ...], text: str) -> Found:
        if not path.exists():
            path.path.write_text(text)
            os.utime(path.path, (10**9, 10**9))
        return Found(path, sub, path.lstat())

    def look(
        self, *bundles: Bundle | ClaimOne, after: float = 0.0, settling: bool = False,
        gang: GangWishes | None = GANG, profile: dict[str, Any] = PROFILE,
    ) -> FolderView:  # fmt: skip
        self.now += after
        tasks = [one if isinstance(one, ClaimOne) else ClaimOne(one) for one in bundles]
        view = FolderView(ready=list(tasks))
        if settling:
            view.waiting.append(WaitingArt("still.png", "it is settling"))
        self.window.sort_out(view, gang, profile)
        return view


@pytest.fixture
def window(tmp_path: Path) -> Window:
    return Window(tmp_path)


def told(view: FolderView) -> list[tuple[str, list[str]]]:
    """The tasks, each with the names of its art."""
    found = []
    for task in view.ready:
        bundles = [task.bundle] if isinstance(task, ClaimOne) else task.bundles  # type: ignore
        found.append((type(task).__name__, [bundle.shown for bundle in bundles]))
    return found


def names(view: FolderView) -> list[str]:
    return [one.name for one in view.waiting if "company" in one.why]


def test_art_waits_as_long_as_the_profile_says_and_is_told_until_when(window: Window) -> None:
    a, b = window.art("a.png"), window.art("b.png")
    view = window.look(a)
    until = (window.noon + timedelta(seconds=600)).astimezone()
    assert [(one.name, one.why) for one in view.waiting] == [
        ("a.png", f"waiting for company until {until:%H:%M}")
    ]
    assert view.ready == []
    view = window.look(a, b, after=599)
    assert names(view) == ["a.png", "b.png"]  # the second waits for the first one's end only
    assert f"{until:%H:%M}" in view.waiting[1].why
    view = window.look(a, b, after=1)
    assert told(view) == [("ClaimTogether", ["a.png", "b.png"])]
    assert view.waiting == []


def test_one_that_nobody_joined_is_made_alone(window: Window) -> None:
    a = window.art("a.png")
    window.look(a)
    assert told(window.look(a, after=600)) == [("ClaimOne", ["a.png"])]


def test_without_a_wish_for_company_nobody_waits(window: Window) -> None:
    a = window.art("a.png")
    assert told(window.look(a, gang=None)) == [("ClaimOne", ["a.png"])]
    window.look(a)
    window.now += 500
    window.look(a, gang=None)
    assert told(window.look(a, after=400)) == []  # it waits anew


def test_as_many_as_the_profile_takes_go_at_once(window: Window) -> None:
    arts = [window.art(f"{letter}.png") for letter in "abcde"]
    view = window.look(*arts)
    assert told(view) == [("ClaimTogether", ["a.png", "b.png", "c.png", "d.png"])]
    assert names(view) == ["e.png"]
    assert told(window.look(*arts[:3]))[0][0] == "MeasureSheet"


def test_only_art_of_one_folder_shares_a_sheet(window: Window) -> None:
    arts = [window.art(name) for name in ("a.png", "x/b.png", "x/c.png", "y/d.png")]
    window.look(*arts)
    view = window.look(*arts, after=600)
    assert told(view) == [
        ("ClaimOne", ["a.png"]),
        ("ClaimTogether", ["x/b.png", "x/c.png"]),
        ("ClaimOne", ["y/d.png"]),
    ]


def test_who_shares_no_sheet_goes_at_once(window: Window) -> None:
    a = window.art("a.png")
    b = window.art("b.png", "gang: false\n")
    c = window.art("c.png", "lpi: 30\n")
    refused = ClaimOne(window.art("d.png"), Refused(Reason.BLANK, "", ""))
    alone = window.art("e.png.ticket.yaml")
    alone.alone = "ticket"
    view = window.look(a, b, c, refused, alone)
    assert [name for _, name in told(view)[:3]] == [["b.png"], ["d.png"], ["e.png.ticket.yaml"]]
    assert told(view)[3] == ("MeasureSheet", ["a.png", "c.png"])
    assert names(view) == ["a.png", "c.png"]


def test_a_ticket_is_read_once_and_again_when_it_changed(
    window: Window, monkeypatch: pytest.MonkeyPatch
) -> None:
    read: list[str] = []

    def waits(path: Any) -> bool:
        read.append(path.name)
        if len(read) == 3:
            raise OSError("gone")
        return True

    monkeypatch.setattr("filmhand.queue.batch_window.waits_for_gang", waits)
    a = window.art("a.png", "lpi: 30\n")
    for _ in range(3):
        assert names(window.look(a)) == ["a.png"]
    assert len(read) == 1
    ticket = window.folder / "a.png.ticket.yaml"
    for size in (20, 21):
        ticket.path.write_text("x" * size)
        assert a.ticket is not None
        a.ticket = Found(ticket, (), ticket.lstat())
        view = window.look(a)
    assert len(read) == 3
    assert told(view) == [("ClaimOne", ["a.png"])]  # the claim will tell


@pytest.mark.parametrize(
    ("patient", "settling", "waits"),
    [(True, False, True), (True, True, True), (False, True, True), (False, False, False)],
)
def test_once_waits_only_for_what_still_settles(
    tmp_path: Path, *, patient: bool, settling: bool, waits: bool
) -> None:
    window = Window(tmp_path, patient=patient)
    view = window.look(window.art("a.png"), window.art("b.png"), settling=settling)
    assert bool(names(view)) is waits
    assert (told(view)[0][0] == "ClaimTogether") is not waits


@pytest.mark.parametrize(("count", "hurry"), [(63, False), (64, True)])
def test_a_full_view_holds_nobody_up(window: Window, count: int, *, hurry: bool) -> None:
    arts = [window.art(f"{number:02}/a.png") for number in range(count)]
    view = window.look(*arts)
    assert len(told(view)) == (count if hurry else 0)


# --- measuring ----------------------------------------------------------------------------------


def test_who_has_room_is_asked_once_and_a_full_sheet_goes(window: Window) -> None:
    arts = [window.art(f"{letter}.png") for letter in "abc"]
    assert told(window.look(arts[0])) == []  # nobody to share with
    view = window.look(*arts)
    assert told(view) == [("MeasureSheet", ["a.png", "b.png", "c.png"])]
    assert isinstance(view.ready[0], MeasureSheet)
    window.window.asked(view.ready[0].bundles)
    assert told(window.look(*arts)) == []
    window.window.know(arts, SheetSpace([(1, 1), (2, 2), (3, 3)], [0, 2]))
    view = window.look(*arts)
    assert told(view) == [("ClaimTogether", ["a.png", "c.png"])]
    assert isinstance(view.ready[0], ClaimTogether)
    assert names(view) == ["b.png"]


def test_a_sheet_with_room_left_waits_on(window: Window) -> None:
    arts = [window.art(f"{letter}.png") for letter in "abc"]
    window.look(*arts[:2])
    window.window.asked(arts[:2])
    window.window.know(arts[:2], SheetSpace([(1, 1), None], [0]))
    assert told(window.look(*arts[:2])) == []  # all that have a size have room
    assert window.window.sizes(arts) == {0: (1, 1), 1: None}
    view = window.look(*arts)  # another pool is another question
    assert told(view) == [("MeasureSheet", ["a.png", "b.png", "c.png"])]


def test_a_measuring_that_failed_is_not_repeated(window: Window) -> None:
    arts = [window.art(f"{letter}.png") for letter in "ab"]
    window.look(*arts)
    window.window.asked(arts)
    window.window.know(arts, None)
    assert told(window.look(*arts)) == []
    assert window.window.sizes(arts) == {}
    assert told(window.look(*arts, after=600)) == [("ClaimTogether", ["a.png", "b.png"])]


def test_what_was_measured_is_forgotten_with_its_art_and_its_profile(window: Window) -> None:
    arts = [window.art(f"{letter}.png") for letter in "ab"]
    window.look(*arts)
    window.window.asked(arts)
    window.window.know(arts, SheetSpace([(1, 1), (2, 2)], [0, 1]))
    window.look(*arts)
    assert window.window.sizes(arts) == {0: (1, 1), 1: (2, 2)}
    window.look(arts[0])
    assert window.window.sizes(arts) == {0: (1, 1)}
    assert told(window.look(*arts))[0][0] == "MeasureSheet"
    window.look(*arts, profile={"name": "small"})  # read anew
    assert window.window.sizes(arts) == {}


def test_whoever_cannot_be_asked_is_not_asked(tmp_path: Path) -> None:
    window = Window(tmp_path, measures=False)
    arts: list[Bundle] = [window.art(f"{letter}.png") for letter in "ab"]
    assert told(window.look(*arts)) == []


@pytest.mark.parametrize("after", [0, 300])
def test_whoever_goes_and_comes_again_waits_anew(window: Window, after: float) -> None:
    a = window.art("a.png")
    window.look(a)
    window.look(after=after)
    window.look(a)
    assert told(window.look(a, after=599)) == []
    assert told(window.look(a, after=1)) == [("ClaimOne", ["a.png"])]
