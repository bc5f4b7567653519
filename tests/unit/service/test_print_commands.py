"""cancel, reprint, pause and resume: what they find, what they leave, and what they say."""

from __future__ import annotations

import json
import shutil
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from filmhand.cli.print_commands import printer_documents
from filmhand.digest import sha256_of
from filmhand.disk.folders import Folders
from filmhand.errors import FilmhandError
from filmhand.film.bits import BitSheet
from filmhand.film.formats import Format
from filmhand.film.read import read_film
from filmhand.film.write import write_films
from filmhand.jobs.print_order import Order, OrderState
from filmhand.prints.print_requests import is_paused, listed
from filmhand.profile.read.load import read_profile
from filmhand.service.print_commands import PrintCounter
from filmhand.units import Resolution

HOST = "here-00000000"
NOW = datetime(2026, 3, 1, 10, tzinfo=UTC)
PROFILE = """
sheet: 100 x 150 mm
dpi: 300
lpi: 25
dot: round
threshold: 50
mesh: none
margin: 5 mm
film: {stack: 2}
print: {printer: ipp://film-printer.local/ipp/print, copies: 3}
"""


class Counter:
    """A station of two profiles, of which one prints, with one film."""

    def __init__(self, folder: Path) -> None:
        self.roots = {name: Folders(folder / name) for name in ("small", "plain")}
        for folders in self.roots.values():
            folders.make()
        self.root = folder / "small"
        plain = PROFILE[: PROFILE.index("print:")]
        self.it = PrintCounter(
            self.roots,
            {
                "small": read_profile(PROFILE, name="small", file="small.yaml"),
                "plain": read_profile(plain, name="plain", file="plain.yaml"),
            },
            HOST,
            running=True,
        )

    def make(self, name: str = "class 4/poster", profile: str = "small", **more: Any) -> Path:
        root = self.root.with_name(profile)
        film = root / "positives" / f"{name}.tif"
        record = root / "records" / f"{name}.json"
        for path in (film, record):
            path.parent.mkdir(parents=True, exist_ok=True)
        with BitSheet.create(root / "bits", width=1181, height=1771) as bits:
            rows = bits.read(0, 8)
            rows[:] = 0b10110010
            bits.write(5, rows)
            write_films(bits, {Format.TIFF: film}, dpi=Resolution(300, 300))
        told = {
            "film": {
                "files": {"tiff": film.name},
                "sha256": {"tiff": sha256_of(film)},
                "sheet_mm": [100.0, 150.0],
                "dpi": [300, 300],
            },
            "copies": 2,
            "for": None,
        }
        record.write_text(json.dumps(told | more))
        return film

    def again(self, name: str) -> str:
        return self.it.reprint(name, printer_documents, NOW)

    def orders(self) -> list[Order]:
        folder = self.roots["small"].hidden / HOST / "prints"
        return [Order.load(folder / identity) for identity in listed(folder).ids]


@pytest.fixture
def counter(tmp_path: Path) -> Counter:
    return Counter(tmp_path)


@pytest.mark.parametrize(
    "name", ["poster", "class 4/poster", "poster.tif", "small/class 4/poster", "small/poster"]
)
def test_the_same_bits_again(counter: Counter, tmp_path: Path, name: str) -> None:
    film = counter.make()
    assert counter.again(name) == "class 4/poster of small is printed again."
    (order,) = counter.orders()
    assert (order.film, order.person, order.sheets) == ("class 4/poster", "class 4", 12)
    assert (order.size, order.margin) == ((10000, 15000), (500, 500, 500, 500))
    assert (order.state, order.at) == (OrderState.WAITING, "2026-03-01T10:00:00Z")
    wanted = read_film(film, tmp_path)[0].read(0, 1771)
    for document in order.documents.values():
        path = (order.folder / document.name).path
        assert (read_film(path, tmp_path)[0].read(0, 1771) == wanted).all()
        assert (sha256_of(path), path.stat().st_size) == (document.sha256, document.bytes)
    hidden = counter.root / ".filmhand"
    assert {path.name for path in hidden.iterdir()} == {"folder.json", HOST}


def test_a_film_that_is_not_what_its_record_says(counter: Counter) -> None:
    film = counter.make()
    film.write_bytes(film.read_bytes() + b"\0")
    with pytest.raises(FilmhandError, match="no longer in positives/ as it was made"):
        counter.again("poster")
    film.unlink()
    with pytest.raises(FilmhandError, match="no longer in positives/ as it was made"):
        counter.again("poster")
    assert counter.orders() == []


@pytest.mark.parametrize(
    "more",
    [
        {"copies": 0},
        {"copies": "2"},
        {"for": 7},
        {"film": {"files": {"tiff": "../x.tif"}}},
        {"film": []},
    ],
)
def test_a_record_that_none_can_be(counter: Counter, more: dict[str, Any]) -> None:
    counter.make(**more)
    with pytest.raises(FilmhandError, match=r"The record poster\.json cannot be used"):
        counter.again("poster")


def test_where_no_printer_is_named_and_where_nothing_is(counter: Counter) -> None:
    counter.make("plain film", "plain")
    with pytest.raises(FilmhandError, match="The profile plain names no printer"):
        counter.again("plain film")
    with pytest.raises(FilmhandError, match="No film called nothing has been made here"):
        counter.again("nothing")
    with pytest.raises(FilmhandError, match="No film called nothing waits to be printed"):
        counter.it.cancel("nothing")


def test_a_profile_that_was_not_read_is_not_said_to_lack_a_printer(counter: Counter) -> None:
    counter.make()
    elsewhere = PrintCounter(counter.roots, {}, HOST, True, Path("st/profiles"))
    with pytest.raises(FilmhandError) as caught:
        elsewhere.reprint("poster", lambda film, folder: {}, datetime.now(UTC))
    assert "no profile small that is right in st/profiles" in str(caught.value)
    assert "--profiles FOLDER" in str(caught.value) and "names no" not in str(caught.value)


def test_several_films_of_one_name(counter: Counter) -> None:
    counter.make("a/poster")
    counter.make("b/poster")
    with pytest.raises(FilmhandError, match="Several films are called poster: small/a/poster, sm"):
        counter.again("poster")
    counter.again("small/b/poster")
    (order,) = counter.orders()
    assert order.film == "b/poster"


SET_ID = "0123456789abcdef"
INKS = ["red", "dark blue", "black"]


def make_set(counter: Counter, stem: str = "class 4/poster") -> list[str]:
    films = []
    for k, ink in enumerate(INKS, 1):
        place = {"id": SET_ID, "k": k, "of": 3, "ink": ink, "color": [50.0, 0.0, 0.0]}
        films.append(f"{stem}-{k}-{ink.replace(' ', '-')}")
        counter.make(films[-1], set=place)
    return films


@pytest.mark.parametrize("name", ["poster", "class 4/poster", "small/class 4/poster"])
def test_a_set_is_printed_again_in_one_run(counter: Counter, name: str) -> None:
    films = make_set(counter)
    counter.make("class 4/poster-2-1-red")  # of no set, though it is called as if
    assert counter.again(name) == "class 4/poster of small is printed again."
    orders = counter.orders()
    assert [order.film for order in orders] == films
    assert [(order.run, order.place, order.of) for order in orders] == [
        (orders[0].id, place, 3) for place in (1, 2, 3)
    ]


def test_one_film_of_a_set_is_printed_again_by_itself(counter: Counter) -> None:
    films = make_set(counter)
    assert counter.again("poster-2-dark-blue") == f"{films[1]} of small is printed again."
    (order,) = counter.orders()
    assert (order.run, order.place, order.of, order.set_stem) == ("", 1, 1, "poster")


def test_a_set_is_named_by_its_id(counter: Counter) -> None:
    films = make_set(counter)
    record = counter.root / "records/class 4/poster-1-red.json"
    assert json.loads(record.read_text())["set"]["id"] == SET_ID
    assert counter.again(SET_ID) == "class 4/poster of small is printed again."
    assert [order.film for order in counter.orders()] == films
    assert [order.sheets for order in counter.orders()] == [12] * 3
    with pytest.raises(FilmhandError, match="still waits"):
        counter.again(SET_ID)
    assert counter.it.cancel(SET_ID).startswith("class 4/poster of small ")
    assert len(counter.orders()) == 3
    make_set(counter, "poster-2")
    with pytest.raises(FilmhandError, match="small/class 4/poster, small/poster-2"):
        counter.again(SET_ID)
    with pytest.raises(FilmhandError, match="No film called 00000000"):
        counter.again("00000000")


def test_what_waits_of_a_set_is_given_up_by_its_name(counter: Counter) -> None:
    make_set(counter)
    counter.again("poster")
    assert counter.it.cancel("class 4/poster").startswith("class 4/poster of small ")
    asked = counter.roots["small"].hidden / HOST / "prints"
    assert len([name for name in asked.names() if name.endswith(".cancel")]) == 3


def test_of_a_set_only_what_is_doubtful_is_printed_again(counter: Counter) -> None:
    make_set(counter)
    counter.again("poster")
    with pytest.raises(FilmhandError, match="still waits"):
        counter.again("poster")
    doubtful = counter.orders()[1]
    doubtful.state = OrderState.DOUBTFUL
    doubtful.save()
    counter.again("poster")
    asked = counter.roots["small"].hidden / HOST / "prints"
    assert [name for name in asked.names() if "." in name] == [f"{doubtful.id}.again"]


def test_sets_of_one_name_in_two_folders_are_told_apart(counter: Counter) -> None:
    make_set(counter)
    make_set(counter, "class 5/poster")
    with pytest.raises(FilmhandError, match=r"small/class 4/poster, small/class 5/poster"):
        counter.again("poster")
    assert counter.orders() == []


def test_no_film_of_a_set_is_printed_again_if_one_is_not_as_made(counter: Counter) -> None:
    make_set(counter)
    (counter.root / "positives/class 4/poster-3-black.tif").unlink()
    with pytest.raises(FilmhandError):
        counter.again("poster")
    assert counter.orders() == []


def test_one_that_waits_is_not_printed_twice(counter: Counter) -> None:
    counter.make()
    counter.again("poster")
    with pytest.raises(FilmhandError, match="still waits to be printed or is being printed"):
        counter.again("poster")
    assert len(counter.orders()) == 1
    (order,) = counter.orders()
    order.state, order.why = OrderState.DOUBTFUL, "it was switched off"
    order.save()
    counter.again("poster")
    assert [asked for _, asked in listed(order.folder.parent).asked] == ["again"]
    counter.it.cancel("poster")
    counter.it.cancel("poster")
    assert {asked for _, asked in listed(order.folder.parent).asked} == {"again", "cancel"}


def test_pause_and_resume(counter: Counter) -> None:
    assert counter.it.pause("small").startswith("The films of small are held until:")
    assert is_paused(counter.roots["small"])
    assert counter.it.pause("small") == "The films of small were held already."
    assert counter.it.resume("small") == "The films of small go on to the printer."
    assert counter.it.resume("small") == "The films of small were not held."
    with pytest.raises(FilmhandError, match=r"no profile large at this station; it has: plain, sm"):
        counter.it.pause("large")
    shutil.rmtree(counter.root / ".filmhand")
    with pytest.raises(FilmhandError, match="is not there or not prepared"):
        counter.it.pause("small")


def test_where_no_service_runs_it_is_said(counter: Counter) -> None:
    counter.make()
    idle = PrintCounter(counter.roots, counter.it.profiles, HOST, running=False)
    said = idle.reprint("poster", printer_documents, NOW)
    assert said.endswith("Filmhand is not running here; it does so when it is started.")
    assert len(counter.orders()) == 1
    never = PrintCounter(counter.roots, counter.it.profiles, None, running=False)
    counter.make("other")
    with pytest.raises(FilmhandError, match="No service has run here yet"):
        never.reprint("other", printer_documents, NOW)
