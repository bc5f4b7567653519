"""What `filmhand doctor` says of a profile's printer."""

from __future__ import annotations

import pytest

from filmhand.printer.capabilities import Capabilities, MediaEntry, PrinterState
from filmhand.printer.print_request import PWG
from filmhand.printer.trouble import PrinterTrouble, TroubleKind
from filmhand.profile.read.load import read_profile
from filmhand.service.doctor.doctor_words import Level
from filmhand.service.doctor.printing import examine_printing
from filmhand.units import Resolution

BASE = """
sheet: letter
dpi: 600
lpi: 25
dot: round
threshold: 50
mesh: 43-80
margin: 6 mm
"""
PRINT = "print: {printer: 'ipps://film-printer.local/ipp/print', certificate: " + "ab" * 32 + "}\n"
FILM_PRINTER = {
    "name": "Acme Film 3",
    "formats": (PWG,),
    "media": (MediaEntry((21590, 21590), (27940, 27940), (423,) * 4),),
    "media_members": frozenset({"media-size"}),
    "raster_types": ("black_1",),
    "raster_resolutions": (Resolution(600, 600),),
    "reasons": ("toner-low-warning",),
}


class Asked:
    def __init__(self, found):
        self.found, self.opened = found, []

    def __call__(self, uri, certificate):
        self.opened.append((uri, certificate))
        return self

    def capabilities(self):
        if isinstance(self.found, Exception):
            raise self.found
        return self.found


def findings(found, text=BASE + PRINT):
    asked = Asked(found)
    profile = read_profile(text, name="small", file="small.yaml")
    return list(examine_printing("small", profile, asked)), asked.opened


def test_a_profile_without_a_printer_says_nothing():
    assert findings(None, BASE) == ([], [])
    assert findings(None, BASE + "print: {copies: 2}\n") == ([], [])


def test_a_printer_that_would_print_its_films():
    found, opened = findings(Capabilities(**FILM_PRINTER))
    assert opened == [("ipps://film-printer.local/ipp/print", "ab" * 32)]
    watched, fine, toner = found
    assert watched.level is Level.NOTE
    assert watched.do == "Let nothing else watch positives/, or each film is printed twice."
    assert fine.level is Level.OK
    assert fine.say == (
        "Acme Film 3 would print its films: PWG Raster of one bit, 8.5 x 11 in (215.9 x 279.4 mm)."
    )
    assert (toner.level, toner.say) == (Level.NOTE, "Acme Film 3 says: toner is low.")


def test_what_it_warns_of():
    near = {"media": (MediaEntry((21590, 21590), (27940, 27940), (650,) * 4),)}
    found, _ = findings(Capabilities(**FILM_PRINTER | near))
    assert [one.level for one in found] == [Level.NOTE, Level.OK, Level.NOTE, Level.NOTE]
    assert "in the profile write margin: 0.26 in." in found[2].say


@pytest.mark.parametrize(
    ("trouble", "level"),
    [
        (PrinterTrouble("It is off.", TroubleKind.AWAY), Level.WRONG),
        (PrinterTrouble("Another certificate.", TroubleKind.WRONG), Level.WRONG),
        (PrinterTrouble("It is busy.", TroubleKind.BUSY), Level.NOTE),
        (Capabilities(**FILM_PRINTER | {"formats": ()}), Level.WRONG),
        (Capabilities(**FILM_PRINTER | {"state": PrinterState.STOPPED}), Level.NOTE),
        (Capabilities(**FILM_PRINTER | {"ready": ()}), Level.NOTE),
    ],
)
def test_what_is_in_the_way(trouble, level):
    found, _ = findings(trouble)
    assert [one.level for one in found] == [Level.NOTE, level]
    assert found[1].what == "printer"
    assert found[1].say.endswith(".")
