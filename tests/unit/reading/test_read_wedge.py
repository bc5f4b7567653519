"""Scans and photographs of a wedge from a simulated press, read back to the tones it printed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from filmhand.errors import Reason, Refused
from filmhand.pipeline.printer_films.wedge_film import wedge_identity
from filmhand.reading.read_wedge import ScannedPicture, read_wedge
from filmhand.reading.reading import ReadOf
from press.scans import Scanner
from press.wedges import print_of

PLAIN = Scanner(ppi=150, margin_mm=6)
PHOTO = Scanner(
    ppi=200,
    margin_mm=8,
    turn=8,
    tilt=(0.12, -0.08),
    vignette=0.3,
    slope=(0.08, -0.05),
    noise=2.0,
    jpeg=88,
)
RED, YELLOW = (0.55, 0.03, 0.05), (0.8, 0.66, 0.05)
SEEN = {
    "gray scan": PLAIN,
    "coarse scan": replace(PLAIN, ppi=100),
    "soft scan": replace(PLAIN, blur_mm=0.15),
    "upside down": replace(PLAIN, turn=181.5),
    "on its side": replace(PLAIN, turn=88),
    "from its back": replace(PLAIN, mirrored=True, turn=20),
    "yellow ink": replace(PLAIN, ink=YELLOW),
    "white ink on black": replace(PLAIN, paper=(0.03, 0.03, 0.035), ink=(0.8, 0.8, 0.78)),
    "photograph": PHOTO,
    "photograph of red ink through a bent lens": replace(PHOTO, ink=RED, barrel=0.01, seed=2),
}


def read(printed_wedge, profile, scanner, *, of=ReadOf.PRINT, pixels=None, ppi=None):
    pixels = printed_wedge.scanned(scanner) if pixels is None else pixels
    scan = ScannedPicture(pixels.astype(np.uint16) * 257, ppi or (scanner.ppi,) * 2, of)
    return read_wedge(scan, wedge_identity(profile))


@pytest.mark.parametrize("seen", SEEN)
def test_every_tone_is_read_within_a_point_and_a_half(printed_wedge, wedge_profile, seen):
    reading = read(printed_wedge, wedge_profile, SEEN[seen])
    off = np.array(
        [one.measured_pct - printed_wedge.tones[one.film_pct] for one in reading.patches]
    )
    assert len(off) >= 21
    assert np.abs(off).max() <= 1.5 and (np.abs(off) <= 0.7).mean() >= 0.75, off.round(1)
    # What it says of its own errors is neither far too good nor far too bad.
    errors = np.array([one.error_pct for one in reading.patches])
    assert np.sqrt((off**2).mean()) < 3 * errors.mean() < 6
    assert reading.mirrored == SEEN[seen].mirrored
    assert not any("code" in note for note in reading.notes)


def test_a_wedge_whose_code_is_spoiled_is_taken_for_the_profiles(printed_wedge, wedge_profile):
    pixels = printed_wedge.scanned(PLAIN).copy()
    box, edge = printed_wedge.drawn.layout.code, PLAIN.margin_mm
    rows, columns = (
        slice(
            round((first + edge) * PLAIN.ppi / 25.4), round((first + edge + 9) * PLAIN.ppi / 25.4)
        )
        for first in (box.top, box.left)
    )
    pixels[rows, columns] = 240
    reading = read(printed_wedge, wedge_profile, PLAIN, pixels=pixels)
    assert any("code" in note for note in reading.notes)
    tone = {one.film_pct: one.measured_pct for one in reading.patches}[50.0]
    assert tone == pytest.approx(printed_wedge.tones[50], abs=1)


def refusal(printed_wedge, profile, scanner, **more):
    with pytest.raises(Refused) as refused:
        read(printed_wedge, profile, scanner, **more)
    assert refused.value.reason is Reason.BAD_SCAN and refused.value.do
    return refused.value.say


@pytest.mark.parametrize(
    ("scanner", "word"),
    [
        (replace(PLAIN, exposure=1.5), "bright"),
        (replace(PLAIN, cut=0.3), "whole wedge"),
        (replace(PLAIN, cut=0.25, turn=180), "cut off"),
        (replace(PLAIN, blur_mm=0.26), "blurred"),
        (replace(PLAIN, glare=0.6, exposure=0.6), "reflex"),
        (replace(PLAIN, ppi=64), "pixels"),
        (replace(PLAIN, ink=(0.745, 0.74, 0.71)), "differ"),
    ],
)
def test_what_is_not_to_be_trusted_is_refused(printed_wedge, wedge_profile, scanner, word):
    assert word in refusal(printed_wedge, wedge_profile, scanner)


def test_a_picture_of_something_else_is_no_wedge(printed_wedge, wedge_profile):
    chance = np.random.default_rng(3)
    pixels = chance.integers(0, 255, (300, 400, 3)).astype(np.uint8)
    assert "No whole wedge" in refusal(printed_wedge, wedge_profile, PLAIN, pixels=pixels)


def test_tones_that_fall_are_refused(wedge_profile):
    falling = print_of(wedge_profile, ((0, 40, 60, 100), (0, 70, 30, 100)), 1)
    assert "do not rise" in refusal(falling, wedge_profile, PLAIN)


def test_the_wedge_of_another_profile_is_told_by_its_name(printed_wedge, wedge_profile):
    other = replace(wedge_profile, name="posters")
    assert "SHOP, and not of POSTERS" in refusal(printed_wedge, other, PLAIN)


def test_the_wedge_of_another_screen_is_told_by_what_changed(printed_wedge, wedge_profile):
    other = replace(wedge_profile, angle=45.0)
    said = refusal(printed_wedge, other, PLAIN)
    assert "22.5°" in said and "45°" in said


def test_a_scan_of_the_film_tells_growth_and_scale(printed_wedge, wedge_profile):
    # Each edge lies one cell further out, and the scanner knows its resolution a little wrong.
    growth = printed_wedge.cell_mm * 1000
    scanner = replace(PLAIN, ppi=300)
    reading = read(printed_wedge, wedge_profile, scanner, of=ReadOf.FILM, ppi=(300, 301.5))
    assert reading.edge_growth_um == pytest.approx(growth, abs=5)
    assert reading.scale == pytest.approx((1.0, 300 / 301.5), abs=0.0006)
    assert reading.density is None and any("density" in note for note in reading.notes)


def test_a_photograph_tells_no_lengths(printed_wedge, wedge_profile):
    reading = read(printed_wedge, wedge_profile, PHOTO)
    assert reading.scale is None and any("Lengths" in note for note in reading.notes)


def test_sizes_that_held_are_told_as_far_as_the_scan_shows_them(printed_wedge, wedge_profile):
    held = read(printed_wedge, wedge_profile, replace(PLAIN, ppi=300)).smallest_held
    # Ink that runs fills gaps, and no line.
    assert held.lines <= held.gaps < 180 and held.dots <= held.shadow_dots < 200
    coarse = read(printed_wedge, wedge_profile, replace(PLAIN, ppi=100))
    assert coarse.smallest_held.dots is None or coarse.smallest_held.dots > held.dots
    assert any("coarse" in note for note in coarse.notes)


def test_a_film_that_is_lit_through_tells_its_density(printed_wedge, wedge_profile):
    lit = replace(PLAIN, paper=(0.85, 0.85, 0.85), ink=(0.0085, 0.0085, 0.0085), noise=0.5)
    pixels = printed_wedge.scanned(lit).astype(np.uint16) * 257
    scan = ScannedPicture(pixels, (150, 150), ReadOf.FILM, lit_through=True)
    reading = read_wedge(scan, wedge_identity(wedge_profile))
    assert reading.density == pytest.approx(2.0, abs=0.1)
    darker = printed_wedge.scanned(replace(lit, ink=(0.0, 0.0, 0.0))).astype(np.uint16) * 257
    reading = read_wedge(replace(scan, codes=darker), wedge_identity(wedge_profile))
    assert reading.density is None and any("more than 2.6" in note for note in reading.notes)
