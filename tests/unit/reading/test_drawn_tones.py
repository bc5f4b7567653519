"""Scattered dots, of which a patch has more or fewer by chance, held against those drawn."""

from __future__ import annotations

import numpy as np
import pytest

from filmhand.pipeline.printer_films.wedge_film import patch_bits, wedge_identity
from filmhand.profile.read.load import load_profile
from filmhand.reading.read_wedge import ScannedPicture, read_wedge
from filmhand.reading.reading import ReadOf
from press.scans import Scanner
from press.wedges import SEFAR, print_of


@pytest.fixture(scope="module")
def scan_of_grain(tmp_path_factory):
    """(profile, scan, print tone by film tone) of a small wedge."""
    file = tmp_path_factory.mktemp("grain") / "shop.yaml"
    file.write_text(
        "sheet: 3.2 x 4 in\ndpi: 300\nlpi: 30\ndot: grain\nthreshold: 50\nmesh: 43-80\n"
        "margin: 0.25 in\nwrite: png\n"
    )
    profile = load_profile(file)
    wedge = print_of(profile, SEFAR, 1)
    pixels = wedge.scanned(Scanner(ppi=150, margin_mm=6, turn=91)).astype(np.uint16) * 257
    return profile, ScannedPicture(pixels, None, ReadOf.PRINT), wedge.tones


def off(reading, tones):
    return np.array([one.measured_pct - tones[one.film_pct] for one in reading.patches])


def test_what_was_drawn_by_chance_is_taken_out_of_tones(scan_of_grain):
    profile, scan, tones = scan_of_grain
    bits = patch_bits(profile)
    blind = read_wedge(scan, wedge_identity(profile))
    seeing = read_wedge(scan, wedge_identity(profile), lambda: bits)
    by_chance, left = off(blind, tones), off(seeing, tones)
    assert np.abs(left).max() < 1.5, left.round(1)
    assert np.sqrt((left**2).mean()) < 0.5 * np.sqrt((by_chance**2).mean()), by_chance.round(1)
    errors = [np.mean([one.error_pct for one in each.patches]) for each in (blind, seeing)]
    assert errors[1] < errors[0]


def test_other_dots_than_those_seen_are_left_alone(scan_of_grain):
    profile, scan, _ = scan_of_grain
    other = [bits[::-1, ::-1] for bits in patch_bits(profile)]
    blind = read_wedge(scan, wedge_identity(profile))
    assert read_wedge(scan, wedge_identity(profile), lambda: other).patches == blind.patches
