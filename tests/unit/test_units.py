"""Lengths, durations and sheets as people write them."""

from __future__ import annotations

import doctest

import pytest

from filmhand import units
from filmhand.film import formats
from filmhand.mesh import table
from filmhand.profile.read import curve, document
from filmhand.units import Resolution, SheetSize


@pytest.mark.parametrize("module", [units, table, curve, document, formats])
def test_examples_in_the_docstrings_hold(module):
    outcome = doctest.testmod(module)
    assert outcome.attempted > 0
    assert outcome.failed == 0


@pytest.mark.parametrize(
    ("written", "mm"),
    [("1 in", 25.4), ("10mm", 10), ("2.5 cm", 25), ("72 pt", 25.4), (".5 in", 12.7)],
)
def test_a_length_is_its_number_times_its_unit(written, mm):
    assert units.read_length_mm(written) == pytest.approx(mm, rel=1e-12)


@pytest.mark.parametrize("written", ["1", 1, 0.25, "1 foot", "-1 mm", "1,5 mm", "", None, True, []])
def test_a_length_without_a_known_unit_is_refused(written):
    with pytest.raises(ValueError, match="a length with its unit"):
        units.read_length_mm(written)


@pytest.mark.parametrize(
    ("written", "um"),
    [("80um", 80), ("80 \u00b5m", 80), ("80 \u03bcm", 80), (" 0.15 mm ", 150), (".5 um", 0.5)],
)
def test_a_small_length_is_in_micrometers(written, um):
    # The micro sign and the Greek letter look alike and are both typed (Unicode 15, U+00B5).
    assert units.read_length_um(written) == um


@pytest.mark.parametrize("written", ["80", 80, "1 in", "-1 um", None])
def test_a_small_length_without_a_known_unit_is_refused(written):
    with pytest.raises(ValueError, match="such as 80 um"):
        units.read_length_um(written)


@pytest.mark.parametrize(("written", "seconds"), [("3 s", 3), ("2min", 120), ("1 ms", 0.001)])
def test_a_duration_is_its_number_times_its_unit(written, seconds):
    assert units.read_seconds(written) == seconds


@pytest.mark.parametrize(
    ("written", "amount"),
    [
        # Binary prefixes: IEC 80000-13; decimal ones: the SI brochure.
        ("3 KiB", 3 * 1024),
        ("3 MiB", 3 * 1024**2),
        ("3 GiB", 3 * 1024**3),
        ("3 kB", 3000),
        ("3 MB", 3_000_000),
        ("3 GB", 3_000_000_000),
    ],
)
def test_an_amount_of_memory_is_its_number_times_its_unit(written, amount):
    assert units.read_bytes(written) == amount


def test_durations():
    assert units.read_seconds("250 ms") == 0.25
    assert units.read_seconds("1.5 h") == 5400
    with pytest.raises(ValueError, match="a duration with its unit"):
        units.read_seconds(2)


def test_amounts_of_memory():
    assert units.read_bytes("1.5 MiB") == 1572864
    assert units.read_bytes("2 GB") == 2_000_000_000
    with pytest.raises(ValueError, match="an amount of memory"):
        units.read_bytes("2 gigs")


@pytest.mark.parametrize(
    ("written", "hundredths"),
    [
        ("letter", (21590, 27940)),
        ("A4", (21000, 29700)),
        ("a3", (29700, 42000)),
        ("tabloid", (27940, 43180)),
        ("13 x 19 in", (33020, 48260)),
        ("21 cm x 297 mm", (21000, 29700)),
        ("13×19in", (33020, 48260)),
    ],
)
def test_sheets_are_whole_hundredths_of_a_millimeter(written, hundredths):
    assert units.read_sheet(written) == SheetSize(*hundredths)


@pytest.mark.parametrize(
    ("least", "less"), [("10 x 2000 mm", "9.99 x 2000 mm"), ("2000 x 10 mm", "2000.01 x 10 mm")]
)
def test_a_sheet_has_sides_from_10_mm_to_2000_mm(least, less):
    assert sorted(units.read_sheet(least).mm) == [10, 2000]
    with pytest.raises(ValueError, match="each side from 10 mm to 2000 mm"):
        units.read_sheet(less)


def test_a_sheet_knows_its_millimeters_across_and_down():
    assert units.read_sheet("210 x 297 mm").mm == (210, 297)
    assert units.read_sheet("720 pt x 1 in").mm == (254, 25.4)


@pytest.mark.parametrize(
    ("written", "wanted"),
    [
        (72, Resolution(72, 72)),
        (4800, Resolution(4800, 4800)),
        ("72 x 4800", Resolution(72, 4800)),
        ("4800\u00d772", Resolution(4800, 72)),
        (" 1440 ", Resolution(1440, 1440)),
    ],
)
def test_a_resolution_is_one_number_or_two(written, wanted):
    assert units.read_resolution(written) == wanted


@pytest.mark.parametrize("written", ["8.5 x 11", "legal pad", 8, "3 mm x 4 mm", "3 x 4 m"])
def test_sheets_that_are_none_are_refused(written):
    with pytest.raises(ValueError, match="a size"):
        units.read_sheet(written)


def test_pixels_are_floored_from_rounded_hundredths():
    # 13 in x 600 dpi is 7800 exactly; A4 at 300 is 2480.3 x 3507.9 and loses its fractions.
    assert SheetSize(33020, 48260).pixels(Resolution(600, 600)) == (7800, 11400)
    assert SheetSize(21000, 29700).pixels(Resolution(300, 300)) == (2480, 3507)
    assert SheetSize(21590, 27940).pixels(Resolution(600, 1200)) == (5100, 13200)


@pytest.mark.parametrize(
    "written", [71, 4801, "71 x 300", "300 x 4801", 300.0, "600 by 1200", True, "600 x", None]
)
def test_resolutions_that_are_none_are_refused(written):
    with pytest.raises(ValueError, match="a whole number from 72 to 4800"):
        units.read_resolution(written)


def test_resolution_gives_its_pixel_in_micrometers():
    assert Resolution(600, 1200).pixel_um() == pytest.approx((42.3333, 21.1667), abs=1e-4)
    assert str(Resolution(600, 1200)) == "600 x 1200"
    assert str(Resolution(300, 300)) == "300"
