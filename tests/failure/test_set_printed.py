"""Films of a set at the printer: one run, whatever else comes to be printed meanwhile."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import job_harness
import pytest
from print_harness import FolderPrinter, events, orders, print_all, printing
from test_spool_killed import drop_all

from filmhand.jobs.print_order import Order
from filmhand.prints.print_requests import PrintAsked, ask_of_print
from filmhand.prints.printer_queue import PrinterQueue

SET, INKS = b"set of three inks to the printer", ["-1-red", "-2-blue", "-3-black"]
OTHER = b"print this to the printer"
DOCUMENTS = [f"document of {job_harness.sha256(SET)}{ink}" for ink in INKS]
OF_OTHER = f"document of {job_harness.sha256(OTHER)}"


class Shop:
    """A spool whose jobs are done, and the printer that its films go to."""

    def __init__(self, folder: Path) -> None:
        self.root, self.device = folder / "small", FolderPrinter(folder / "printer")
        self.spool = job_harness.make_queue(self.root, folder / "state")
        self.queue: PrinterQueue = printing(self.spool, self.device)

    def make(self, **files: bytes) -> None:
        drop_all(self.root, {f"{name}.png": data for name, data in files.items()})
        job_harness.work_through(self.spool)

    def order(self, end: str) -> Order:
        (found,) = [order for order in self.orders() if order.stem.endswith(end)]
        return found

    def orders(self) -> list[Order]:
        own = self.spool.context.own
        return [Order.load(own / "prints" / folder.name) for folder in orders(self.root)]

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
    counter.steps(5)
    assert counter.device.sheets() == [] and not counter.device.jobs()
    (out / late.id).path.rename(late.folder.path)
    print_all(counter.queue)
    assert counter.device.sheets() in ([*DOCUMENTS, OF_OTHER], [OF_OTHER, *DOCUMENTS])


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
    for pause in counter.queue._held.values():
        pause.end()
    print_all(counter.queue)
    assert counter.device.sheets() == [*DOCUMENTS, OF_OTHER]


def told(counter: Shop, state: str) -> list[Any]:
    return [line["film"] for line in events(counter.root) if line["state"] == state]
