"""The service with a printer: what it tells, what people ask of it, how it stops and goes on."""

from __future__ import annotations

import json
import signal
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from print_harness import ADDRESS, FolderPrinter, events, orders
from test_service_station import PROFILE, Shop, wait_until

from filmhand.cli.station import print_status
from filmhand.disk.folders import Folders
from filmhand.errors import FilmhandError
from filmhand.printer.print_request import JobState
from filmhand.service.station import Station

PRINTING = PROFILE + f"print: {{printer: '{ADDRESS}'}}\n"
ART = b"print this to the printer"


class PrintShop(Shop):
    """A station whose profile names a printer."""

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self.profile("small", PRINTING)
        self.printer = FolderPrinter(folder / "printer")

    def start(self, word: str, **environment: str) -> Any:
        told = {"PRINTER": str(self.printer.folder), "FIRST_PAUSE": "0.2", "LONGEST_PAUSE": "0.5"}
        return super().start(word, **told, **environment)

    def told(self) -> dict[str, Any]:
        """What is told of the printer."""
        printers = self.status()["printers"]
        return printers[0] if printers else {"state": "", "doubtful": [], "waiting": 0}

    def states(self, film: str = "one") -> list[str]:
        return [line["state"] for line in events(self.root()) if line["film"] == film]

    @property
    def counter(self) -> Any:
        return Station(self.station, state=self.state).print_counter()


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[PrintShop]:
    made = PrintShop(tmp_path)
    yield made
    for process in made.started:
        if process.poll() is None:
            process.kill()
            process.wait()


def test_a_film_is_made_printed_and_told(shop: PrintShop) -> None:
    shop.serve()
    shop.drop("one.png", ART)
    wait_until(lambda: "printed" in shop.states())
    (line,) = [line for line in events(shop.root()) if line["state"] == "printed"]
    assert {key: value for key, value in line.items() if key != "at"} == {
        "schema": "filmhand-print/1",
        "film": "one",
        "printer": ADDRESS,
        "printer_job": 1,
        "state": "printed",
        "why": None,
        "sheets": 1,
        "for": None,
    }
    assert (shop.root() / "positives" / "one.pdf").exists()
    wait_until(lambda: shop.told()["state"] == "idle")
    assert "ipp://film-printer.local" in (shop.station / "status.html").read_text()
    wait_until(lambda: orders(shop.root()) == [])


def test_whose_film_it_is_stands_in_the_log(shop: PrintShop) -> None:
    shop.serve()
    shop.drop("Ana/one.png", ART)
    wait_until(lambda: "printed" in shop.states("Ana/one"))
    assert {line["for"] for line in events(shop.root())} == {"Ana"}


def test_a_printer_that_is_off_holds_up_nothing_but_itself(shop: PrintShop) -> None:
    shop.printer.mood = "off"
    shop.profile("other", PROFILE)
    shop.serve()
    shop.drop("one.png", ART)
    wait_until(lambda: shop.states() == ["waiting"])
    shop.drop("two.png", b"print another to the printer")
    shop.drop("three.png", b"art of another", "other")
    wait_until(lambda: len(list((shop.root() / "positives").glob("*.pdf"))) == 2)
    wait_until(lambda: len(list((shop.root("other") / "positives").glob("*.pdf"))) == 1)
    wait_until(lambda: shop.told()["waiting"] == 2)
    assert shop.told()["state"] == "waits"
    assert shop.told()["why"] == "The printer does not answer."
    assert shop.states() == ["waiting"]
    shop.printer.mood = ""
    wait_until(lambda: shop.states() == ["waiting", "sent", "printed"])
    wait_until(lambda: len(shop.printer.sheets()) == 2)


def test_once_prints_and_says_what_it_could_not_print(shop: PrintShop) -> None:
    shop.drop("one.png", ART)
    assert shop.once() == 0
    assert len(shop.printer.sheets()) == 1
    shop.printer.mood = "off"
    shop.drop("two.png", b"print another to the printer")
    assert shop.once() == 75
    said = shop.log.read_text()
    assert "1 film is left to print on ipp://film-printer.local" in said
    assert "The printer does not answer" in said
    shop.printer.mood = ""
    assert shop.once() == 0
    assert len(shop.printer.sheets()) == 2


def test_told_to_stop_while_it_prints_and_started_again(shop: PrintShop) -> None:
    shop.printer.mood = "jam"
    process = shop.serve()
    for name in ("one.png", "two.png"):
        shop.drop(name, ART + name.encode())
    wait_until(lambda: "stopped" in shop.states("one") + shop.states("two"))
    wait_until(lambda: shop.told()["waiting"] == 1)
    told = shop.told()
    assert told["state"] == "stopped"
    assert told["why"] == "paper jam"
    process.send_signal(signal.SIGTERM)
    assert process.wait(timeout=120) == 0
    assert shop.printer.sheets() == []
    shop.printer.mood = ""
    shop.serve()
    wait_until(lambda: len(shop.printer.sheets()) == 2)
    wait_until(lambda: orders(shop.root()) == [])
    assert len(shop.printer.jobs()) == 2


def test_canceled_while_it_waits_and_at_the_printer(shop: PrintShop) -> None:
    shop.printer.mood = "jam"
    shop.serve()
    shop.drop("one.png", ART)
    wait_until(lambda: "stopped" in shop.states())
    shop.drop("two.png", b"print another to the printer")
    wait_until(lambda: shop.told()["waiting"] == 1)
    assert shop.counter.cancel("two") == "two of small is canceled."
    wait_until(lambda: shop.states("two") == ["canceled"])
    shop.counter.cancel("small/one.pdf")
    wait_until(lambda: shop.states() == ["sent", "stopped", "canceled"])
    assert shop.printer.jobs()[1]["state"] == JobState.CANCELED
    assert shop.printer.sheets() == []
    assert (shop.root() / "positives" / "one.pdf").exists()
    wait_until(lambda: orders(shop.root()) == [])  # put away after it is told
    with pytest.raises(FilmhandError, match="No film called one waits"):
        shop.counter.cancel("one")


def test_paused_and_resumed(shop: PrintShop) -> None:
    shop.serve()
    wait_until(Folders(shop.root()).present)
    assert "are held until" in shop.counter.pause("small")
    assert "held already" in shop.counter.pause("small")
    shop.drop("one.png", ART)
    wait_until(lambda: shop.told()["waiting"] == 1 and shop.told()["state"] == "paused")
    assert shop.told()["paused"] == ["small"]
    assert shop.printer.sheets() == []
    shop.counter.resume("small")
    wait_until(lambda: len(shop.printer.sheets()) == 1)
    assert "were not held" in shop.counter.resume("small")
    with pytest.raises(FilmhandError, match="There is no profile large"):
        shop.counter.pause("large")


def test_a_printer_that_lost_its_memory_makes_a_film_doubtful(shop: PrintShop) -> None:
    shop.printer.mood = "jam"
    shop.serve()
    shop.drop("one.png", ART)
    wait_until(lambda: "stopped" in shop.states())
    shop.printer.mood = ""
    shop.printer.forget()
    wait_until(lambda: shop.told()["doubtful"])
    (told,) = shop.told()["doubtful"]
    assert told["film"] == "one"
    assert "Nobody knows whether it was printed" in told["why"]
    assert "filmhand reprint STATION one" in told["do"]
    shop.drop("two.png", b"print another to the printer")  # goes on behind it
    wait_until(lambda: "printed" in shop.states("two"))
    assert "printed" not in shop.states()
    shop.counter.reprint("one", None, None)
    wait_until(lambda: "printed" in shop.states())
    assert len(shop.printer.sheets()) == 2
    assert shop.states()[-3:] == ["doubtful", "sent", "printed"]


def test_a_doubtful_film_given_up(shop: PrintShop) -> None:
    shop.printer.mood = "aborts"
    shop.serve()
    shop.drop("one.png", ART)
    wait_until(lambda: shop.told()["doubtful"])
    assert "the printer gave it up (out of memory)" in shop.told()["doubtful"][0]["why"]
    shop.counter.cancel("one")
    wait_until(lambda: orders(shop.root()) == [])
    assert shop.states()[-1] == "canceled"
    assert shop.printer.sheets() == []


def test_canceled_at_the_panel_is_told_and_not_printed_again(shop: PrintShop) -> None:
    shop.printer.mood = "panel"
    shop.serve()
    shop.drop("one.png", ART)
    wait_until(lambda: "canceled" in shop.states())
    (line,) = [line for line in events(shop.root()) if line["state"] == "canceled"]
    assert line["why"] == "it was canceled at the printer"
    shop.printer.mood = ""
    shop.drop("two.png", b"print another to the printer")
    wait_until(lambda: "printed" in shop.states("two"))
    assert len(shop.printer.sheets()) == 1


def test_a_status_of_an_older_service_is_read(shop: PrintShop) -> None:
    assert shop.once() == 0
    path = shop.state / "status.json"
    told = json.loads(path.read_text())
    del told["printers"]
    path.write_text(json.dumps(told))
    told = Station(shop.station, state=shop.state).status()
    assert told["counts"]["waiting"] == 0
    print_status(told)


def test_doctor_names_films_that_wait_for_a_printer_that_nobody_names(shop: PrintShop) -> None:
    shop.printer.mood = "off"
    shop.drop("one.png", ART)
    assert shop.once() == 75

    def wrong() -> list[str]:
        found = Station(shop.station, state=shop.state).doctor()
        return [one.say for one in found if one.what == "printer" and one.level == "wrong"]

    shop.profile("small", PROFILE)
    assert wrong() == ["1 film waits to be printed, and the profile names no printer any more."]
    shop.profile("small", PRINTING)
    shop.printer.mood = ""
    assert shop.once() == 0
    shop.profile("small", PROFILE)
    assert wrong() == []


def test_no_order_where_no_printer_is_named(shop: PrintShop) -> None:
    shop.profile("small", PROFILE)
    shop.drop("one.png", b"art of a poster")
    assert shop.once() == 0
    wait_until(lambda: orders(shop.root()) == [])
    assert {path.name for path in (shop.root() / "positives").iterdir()} == {"one.pdf", "one.tif"}
    assert shop.status()["printers"] == []
