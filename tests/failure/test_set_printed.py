"""Films of a set at the printer: one run, whatever else comes to be printed meanwhile."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import job_harness
import pytest
from print_harness import ADDRESS, FolderPrinter, events, print_all, printing
from test_spool_killed import drop_all

from filmhand.disk.folders import Folders
from filmhand.jobs.print_order import Order
from filmhand.peers.host import ALIVE_EVERY, Peers, sign_of_life
from filmhand.prints.print_requests import (
    PrintAsked,
    ask_of_print,
    listed,
    pause_printing,
    resume_printing,
)
from filmhand.prints.printer_queue import PrinterQueue
from filmhand.prints.printer_status import left_for
from filmhand.prints.printer_turn import PrinterTurn
from filmhand.prints.profile_orders import PrintingProfile
from filmhand.profile.printing import PrintWishes
from filmhand.queue.job_queue import JobQueue

SET, INKS = b"set of three inks to the printer", ["-1-red", "-2-blue", "-3-black"]
WISHES = PrintWishes(printer=ADDRESS)
OTHER = b"print this to the printer"
DOCUMENTS = [f"document of {job_harness.sha256(SET)}{ink}" for ink in INKS]
OF_OTHER = f"document of {job_harness.sha256(OTHER)}"


class Shop:
    """A spool whose jobs are done, and the printer that its films go to."""

    def __init__(self, folder: Path, host: str = "here-00000000") -> None:
        self.folder = folder
        self.root, self.device = folder / "small", FolderPrinter(folder / "printer")
        self.spool = job_harness.make_queue(self.root, folder / f"state-{host}", host)
        self.now = 0.0
        self.queue: PrinterQueue = printing(self.spool, self.device, clock=lambda: self.now)

    def make(self, **files: bytes) -> None:
        drop_all(self.root, {f"{name}.png": data for name, data in files.items()})
        job_harness.work_through(self.spool)

    def order(self, end: str) -> Order:
        (found,) = [order for order in self.orders() if order.stem.endswith(end)]
        return found

    def orders(self) -> list[Order]:
        own = self.spool.context.own / "prints"
        return [Order.load(own / name) for name in listed(own).ids]

    def steps(self, count: int) -> None:
        for _ in range(count):
            self.queue.step()


@pytest.fixture
def counter(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Shop:
    monkeypatch.setattr("filmhand.prints.printer_queue.FOLLOWED_EVERY", 0.0)
    return Shop(tmp_path)


def older(counter: Shop, **files: bytes) -> None:
    """Films whose orders sort before all others, as of a job that was held for long."""
    before = {order.id for order in counter.orders()}
    counter.make(**files)
    for order in counter.orders():
        if order.id not in before:
            place = order.folder.with_name("2020" + order.id[4:])
            order.id = place.name
            order.save()
            order.folder.path.rename(place.path)


def test_orders_of_a_set_are_one_run(counter: Shop) -> None:
    counter.make(poster=SET, one=OTHER)
    told = {order.stem: (order.run, order.place, order.of) for order in counter.orders()}
    first = counter.order("-1-red").id
    assert told == {
        "poster-1-red": (first, 1, 3), "poster-2-blue": (first, 2, 3),
        "poster-3-black": (first, 3, 3), "one": ("", 1, 1),
    }  # fmt: skip


def test_an_older_film_that_comes_late_waits_for_the_end_of_the_run(counter: Shop) -> None:
    counter.make(poster=SET)
    while not counter.device.sheets():
        counter.steps(1)
    older(counter, one=OTHER)
    print_all(counter.queue)
    assert counter.device.sheets() == [*DOCUMENTS, OF_OTHER]


def test_so_it_does_after_a_start_anew(counter: Shop) -> None:
    counter.make(poster=SET)
    while not counter.device.sheets():
        counter.steps(1)
    older(counter, one=OTHER)
    print_all(printing(counter.spool, counter.device))
    assert counter.device.sheets() == [*DOCUMENTS, OF_OTHER]


def test_nothing_is_begun_before_a_run_has_been_published_to_its_end(counter: Shop) -> None:
    counter.make(poster=SET, one=OTHER)
    own, late = counter.spool.context.own, counter.order("-3-black")
    out = own / late.job / "out"
    out.parent.mkdir()
    out.mkdir()
    late.folder.path.rename((out / late.id).path)
    print_all(counter.queue)
    assert counter.device.sheets() == [OF_OTHER]
    (held,) = counter.queue.status()["held"]
    assert held["why"].startswith("2 films of poster wait until all 3 films of that set")
    assert "2 films of poster wait" in left_for(counter.queue.status())
    (out / late.id).path.rename(late.folder.path)
    print_all(counter.queue)
    assert counter.device.sheets() == [OF_OTHER, *DOCUMENTS]
    assert not counter.queue.status()["held"]


@pytest.mark.parametrize("end", INKS)
def test_a_film_that_nobody_wants_holds_up_no_other(counter: Shop, end: str) -> None:
    counter.make(poster=SET, one=OTHER)
    ask_of_print(counter.order(end), PrintAsked.CANCEL)
    print_all(counter.queue)
    wanted = [one for one in DOCUMENTS if not one.endswith(end)]
    sheets = counter.device.sheets()
    assert sorted(sheets) == sorted([*wanted, OF_OTHER])
    assert [one for one in sheets if one != OF_OTHER] == wanted
    assert sheets.index(OF_OTHER) in {0, 2}


def test_a_doubtful_film_holds_up_no_other_and_can_be_printed_again(counter: Shop) -> None:
    counter.make(poster=SET)
    while len(counter.device.sheets()) < 1:
        counter.steps(1)
    counter.device.mood = "aborts"
    while not (doubtful := told(counter, "doubtful")):
        counter.steps(1)
    counter.device.mood = ""
    print_all(counter.queue)
    assert doubtful == ["poster-2-blue"]
    assert counter.device.sheets() == [DOCUMENTS[0], DOCUMENTS[2]]
    ask_of_print(counter.order("-2-blue"), PrintAsked.AGAIN)
    print_all(counter.queue)
    assert counter.device.sheets() == [DOCUMENTS[0], DOCUMENTS[2], DOCUMENTS[1]]
    assert told(counter, "printed") == ["poster-1-red", "poster-3-black", "poster-2-blue"]


def test_a_film_that_is_printed_again_does_not_break_a_later_run(counter: Shop) -> None:
    counter.make(poster=SET)
    counter.device.mood = "aborts"
    while len(told(counter, "doubtful")) < 3:
        counter.steps(1)
    counter.device.mood = ""
    later = SET + b", another"
    counter.make(later=later)
    while not counter.device.sheets():
        counter.steps(1)
    ask_of_print(counter.order("poster-2-blue"), PrintAsked.AGAIN)
    print_all(counter.queue)
    of_later = [f"document of {job_harness.sha256(later)}{ink}" for ink in INKS]
    assert counter.device.sheets() == [*of_later, DOCUMENTS[1]]


def test_what_stops_a_run_stops_the_other_films_of_its_profile(counter: Shop) -> None:
    counter.make(poster=SET)
    while not counter.device.sheets():
        counter.steps(1)
    counter.device.mood = "other-sheet"
    older(counter, one=OTHER)
    counter.steps(5)
    counter.device.mood = ""
    counter.now += 400
    print_all(counter.queue)
    assert counter.device.sheets() == [*DOCUMENTS, OF_OTHER]


def test_a_film_that_was_spoiled_on_the_disk_holds_up_no_other(counter: Shop) -> None:
    counter.make(poster=SET, one=OTHER)
    (counter.order("-2-blue").folder.path / "film.pwg").write_bytes(b"spoiled")
    (counter.order("-2-blue").folder.path / "film.pdf").write_bytes(b"spoiled")
    print_all(counter.queue)
    assert sorted(counter.device.sheets()) == sorted([DOCUMENTS[0], DOCUMENTS[2], OF_OTHER])
    (held,) = counter.queue.status()["held"]
    assert "filmhand cancel STATION poster-2-blue" in held["why"]
    ask_of_print(counter.order("-2-blue"), PrintAsked.CANCEL)
    print_all(counter.queue)
    assert not counter.queue.status()["held"] and counter.orders() == []


# --- another profile's films ---------------------------------------------------------------------


@pytest.fixture
def other(counter: Shop) -> JobQueue:
    """The jobs of another profile, whose films go to the same printer."""
    root = counter.folder / "other"
    spool = job_harness.make_queue(root, counter.folder / "state-other")
    drop_all(root, {"one.png": OTHER})
    job_harness.work_through(spool)
    counter.queue.arrange(
        PrintingProfile(name, queue.context, WISHES, lambda *_: counter.device)
        for name, queue in (("small", counter.spool), ("other", spool))
    )
    return spool


def begin_set(counter: Shop) -> None:
    """Up to the end of the first film of a set, while another film is made that could go."""
    pause_printing(Folders(counter.folder / "other"))
    counter.make(poster=SET)
    while not counter.device.sheets():
        counter.steps(1)
    resume_printing(Folders(counter.folder / "other"))


@pytest.mark.usefixtures("other")
def test_no_film_of_another_profile_comes_between_those_of_a_set(counter: Shop) -> None:
    begin_set(counter)
    counter.device.mood = "other-sheet"
    counter.steps(3)
    counter.device.mood = ""
    counter.steps(3)  # the set is not tried again so soon, and the other film could go
    assert counter.device.sheets() == DOCUMENTS[:1]
    whys = {one["profile"]: one["why"] for one in counter.queue.status()["held"]}
    assert "poster goes out in one run" in whys["other"] and len(whys) == 2
    counter.now += 400
    print_all(counter.queue)
    assert counter.device.sheets() == [*DOCUMENTS, OF_OTHER]


@pytest.mark.usefixtures("other")
def test_somebody_may_let_another_film_go_first(counter: Shop) -> None:
    begin_set(counter)
    pause_printing(Folders(counter.root))
    print_all(counter.queue)
    assert counter.device.sheets() == [DOCUMENTS[0], OF_OTHER]
    resume_printing(Folders(counter.root))
    print_all(counter.queue)
    assert counter.device.sheets() == [DOCUMENTS[0], OF_OTHER, *DOCUMENTS[1:]]


@pytest.mark.usefixtures("other")
def test_a_set_that_the_printer_cannot_print_at_all_holds_up_no_other_profile(
    counter: Shop,
) -> None:
    counter.make(poster=SET)
    for order in counter.orders()[1:]:
        order.size = (90000, 90000)
        order.save()
    pause_printing(Folders(counter.folder / "other"))
    while not counter.device.sheets():
        counter.steps(1)
    resume_printing(Folders(counter.folder / "other"))
    print_all(counter.queue)
    assert counter.device.sheets() == [DOCUMENTS[0], OF_OTHER]


# --- films of another host -----------------------------------------------------------------------


@pytest.fixture
def there(counter: Shop) -> Shop:
    """Another host at the same folder and printer."""
    counter.spool.context.folders.make()
    sign_of_life(counter.spool.context.folders.hidden, "here-00000000")
    return Shop(counter.folder, "there-11111111")


def print_on_both(here: Shop, there: Shop, patience: int = 300) -> None:
    """Both look in turns until all is printed."""
    for _ in range(patience):
        for one in (here, there):
            one.steps(1)
            one.now += 2.0
        if not here.orders() and not there.orders():
            return
    raise AssertionError((here.queue.status(), there.queue.status()))


@pytest.mark.parametrize("ahead", [0, 2, 4])
def test_no_film_of_another_host_comes_between_those_of_a_set(
    counter: Shop, there: Shop, ahead: int
) -> None:
    counter.make(poster=SET)
    older(there, one=OTHER)
    counter.steps(ahead)
    print_on_both(counter, there)
    print_on_both(counter, there)  # once more, at rest
    assert counter.device.sheets() in ([*DOCUMENTS, OF_OTHER], [OF_OTHER, *DOCUMENTS])
    hidden = counter.spool.context.folders.hidden
    assert not [name for name in hidden.names() if name.startswith("turn-")]


def test_who_waits_for_its_turn_says_so_and_ends_with_it(counter: Shop, there: Shop) -> None:
    counter.make(poster=SET)
    there.make(one=OTHER)
    while not counter.device.sheets():
        counter.steps(1)
    print_all(there.queue)  # all that it can for now
    assert "here-00000000 is printing on it" in there.queue.status()["why"]
    assert "here-00000000 is printing on it" in left_for(there.queue.status())
    there.now += 1200
    there.steps(1)
    why = there.queue.status()["why"]
    assert "here-00000000 has had its turn on it for 20 min" in why and "filmhand pause" in why


def test_a_turn_at_a_printer_that_its_profile_left_goes_back(counter: Shop, there: Shop) -> None:
    counter.make(poster=SET)
    there.make(one=OTHER)
    while not counter.device.sheets():
        counter.steps(1)
    counter.spool.change(replace(counter.spool.settings, printing=None))
    counter.queue.arrange([])  # other profiles keep it, so its thread goes on
    counter.steps(1)
    there.steps(3)
    assert len(counter.device.sheets()) == 1
    counter.spool.look()
    print_all(there.queue)
    assert counter.device.sheets()[-1] == OF_OTHER


def test_a_forged_turn_of_a_host_that_lives_and_prints_elsewhere_goes_back(
    counter: Shop, there: Shop
) -> None:
    elsewhere = PrintWishes(printer="ipp://other-printer.local/ipp/print")
    counter.spool.change(replace(counter.spool.settings, printing=elsewhere))
    counter.spool.look()
    hidden = counter.spool.context.folders.hidden
    own, forged = (
        PrinterTurn(hidden, "here-00000000", printer).place.path
        for printer in (elsewhere.printer, ADDRESS)
    )
    for place in (own, forged):
        place.write_bytes(b"here-00000000\n")
    of_a_third = forged.with_name("turn-0000000000000000")
    of_a_third.write_bytes(b"third-22222222\n")
    there.make(one=OTHER)
    there.steps(3)
    assert counter.device.sheets() == []
    counter.spool._clock = lambda: time.monotonic() + ALIVE_EVERY
    counter.spool.look()
    print_all(there.queue)
    assert counter.device.sheets() == [OF_OTHER]
    assert own.exists() and of_a_third.exists()


def test_hosts_with_many_films_take_turns(counter: Shop, there: Shop) -> None:
    for number in range(3):
        counter.make(**{f"a{number}": OTHER + b" here %d" % number})
        there.make(**{f"b{number}": OTHER + b" there %d" % number})
    print_on_both(counter, there)
    here = {f"document of {job_harness.sha256(OTHER + b' here %d' % n)}" for n in range(3)}
    whose = ["here" if sheet in here else "there" for sheet in counter.device.sheets()]
    assert len(whose) == 6 and whose[0] != whose[2]


def test_who_takes_over_a_set_goes_on_with_it_before_all_else(counter: Shop, there: Shop) -> None:
    counter.make(poster=SET)
    older(there, one=OTHER)
    while not counter.device.sheets():
        counter.steps(1)
    there.steps(3)
    hidden = counter.spool.context.folders.hidden
    Peers(hidden, "there-11111111").adopt("here-00000000")
    assert PrinterTurn(hidden, "there-11111111", ADDRESS).take() == ""
    print_all(there.queue)
    assert counter.device.sheets() == [*DOCUMENTS, OF_OTHER]


@pytest.mark.parametrize("forge", [
    lambda place: place.write_bytes(b"gone-22222222\n"), lambda place: place.write_bytes(b"\xff"),
    lambda place: place.write_bytes(b"../../x-00000000"), lambda place: place.write_bytes(b""),
    lambda place: place.write_bytes(b"x" * 1000), lambda place: (place / "x").mkdir(parents=True),
    lambda place: place.symlink_to("/dev/zero"), os.mkfifo,
    lambda place: (place.parent / f"{place.name}.wanted" / "x").mkdir(parents=True),
])  # fmt: skip
def test_a_forged_turn_stops_nobody(counter: Shop, forge: Callable[[Path], Any]) -> None:
    counter.make(poster=SET)
    forge(PrinterTurn(counter.spool.context.folders.hidden, "here-00000000", ADDRESS).place.path)
    print_all(counter.queue)
    assert counter.device.sheets() == DOCUMENTS


def told(counter: Shop, state: str) -> list[Any]:
    return [line["film"] for line in events(counter.root) if line["state"] == state]
