"""Prints of exposure films, from a simulated press and scanner, are read step by step.

Too little light washes fine posts of the stencil away, so that shadow dots and gaps fill; too much
grows the posts, so that dots and lines close. Edges are moved by SciPy and OpenCV, and the scan is
that of ``tests/press``.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tifffile
from click.testing import CliRunner
from PIL import Image

from filmhand.cli.main import main
from filmhand.errors import Refused
from filmhand.pipeline.printer_films.exposure_advice import advice_of_scan
from filmhand.pipeline.printer_films.exposure_film import exposure_identity, make_exposure_film
from filmhand.pipeline.printer_films.wedge_film import make_wedge
from filmhand.profile.read.load import read_profile
from filmhand.reading.read_exposure import read_exposure
from filmhand.reading.read_wedge import ScannedPicture
from filmhand.reading.reading import ReadOf
from press.scans import FINER, Scanner, printed, scanned

cv2 = pytest.importorskip("cv2")
pytestmark = pytest.mark.outside

PROFILE = (
    "sheet: 4 x 4 in\ndpi: 300\nlpi: 25\ndot: round\nthreshold: 50\nmesh: 90-48\n"
    "margin: 0.25 in\nwrite: tiff\n"
)


@pytest.fixture(scope="module")
def film(tmp_path_factory: Any) -> tuple[Any, Any, Any]:
    """(profile, bits, what is told) of an exposure film."""
    profile = read_profile(PROFILE, name="press", file="press.yaml")
    made, told = make_exposure_film(profile, tmp_path_factory.mktemp("film"))
    (path,) = made.values()
    return profile, tifffile.imread(path).astype(bool), told


def print_of(film: Any, right: int, cells: float) -> Any:
    """What comes of a screen whose step ``right`` got the right light.

    Each step away from it moves edges by so many cells of the print.
    """
    _, bits, told = film
    ink = printed(bits)
    for step in told["steps"]:
        left, top, width, height = (FINER * one for one in step["box_px"])
        part = ink[top : top + height, left : left + width]
        by = round(cells * abs(step["step"] - right))
        disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * by + 1, 2 * by + 1))
        part[:] = (cv2.erode if step["step"] > right else cv2.dilate)(part, disc)
    return ink


@pytest.mark.parametrize(
    ("right", "scanner"),
    [
        (3, Scanner(ppi=400)),
        (4, Scanner(ppi=300, turn=92, ink=(0.7, 0.05, 0.08), jpeg=90, vignette=0.1)),
        (5, Scanner(ppi=350, turn=8, tilt=(0.1, 0.05), mirrored=True, noise=2)),
    ],
    ids=["scan", "red, turned", "photographed from behind"],
)
def test_the_step_that_had_the_right_light_is_found(film: Any, right: int, scanner: Any) -> None:
    profile, _, _ = film
    codes = scanned(print_of(film, right, 1.0), 25.4 / 300 / FINER, scanner)
    steps = read_exposure(
        ScannedPicture(codes.astype(np.uint16) * 257, None, ReadOf.PRINT),
        exposure_identity(profile),
    )
    assert [one.number for one in steps] == [step["step"] for step in film[2]["steps"]]
    finest = next(one.held for one in steps if one.number == right)
    assert finest.dots == pytest.approx(95.5, abs=0.1) == finest.shadow_dots
    assert finest.lines == pytest.approx(84.7, abs=0.1) == finest.gaps
    advised = advice_of_scan(60, [(one.number, one.held) for one in steps])
    assert advised.settled
    assert advised.seconds == pytest.approx(60 * 2 ** ((right - 4) / 2), rel=0.01)


def test_the_command_reads_a_scan(film: Any, tmp_path: Path) -> None:
    scan, profile = tmp_path / "scan.png", tmp_path / "press.yaml"
    codes = scanned(print_of(film, 4, 1.0), 25.4 / 300 / FINER, Scanner(ppi=300))
    Image.fromarray(codes).save(scan)
    profile.write_text(PROFILE)
    words = ["exposure", str(scan), "--time", "40 s", "--profile", str(profile)]
    told = json.loads(CliRunner().invoke(main, [*words, "--json"]).output)
    assert told["seconds"] == pytest.approx(40, rel=0.01) and len(told["steps"]) == 5
    shown = CliRunner().invoke(main, words)
    assert shown.exit_code == 0 and "40 s" in shown.output and "squeegee side" in shown.output


def test_a_wedge_is_no_exposure_film(tmp_path: Path) -> None:
    profile = read_profile(PROFILE, name="press", file="press.yaml")
    made, _ = make_wedge(profile, tmp_path)
    (path,) = made.values()
    ink = np.kron(tifffile.imread(path).astype(np.uint8) * 255, np.ones((2, 2), np.uint8))
    codes = scanned(ink, 25.4 / 300 / 2, Scanner(ppi=300)).astype(np.uint16) * 257
    with pytest.raises(Refused, match="no exposure film"):
        read_exposure(ScannedPicture(codes, None, ReadOf.PRINT), exposure_identity(profile))
