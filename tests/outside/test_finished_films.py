"""Whole films, from art to file, measured with tools that are not ours.

The bitmaps are read by tifffile (with imagecodecs for Group 4), the ruling and angle found with
SciPy's chirp z-transform, dots labeled by scipy.ndimage.
"""

from __future__ import annotations

import itertools
import json
from pathlib import Path

import numpy as np
import pikepdf
import pytest
import tifffile
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage, signal

from filmhand.pipeline.make import make_films
from filmhand.profile.read.load import read_profile
from filmhand.request import FinishedFilm, JobRequest

pytestmark = pytest.mark.outside

PROFILE = """\
sheet: {sheet}
dpi: {dpi}
lpi: {lpi}
dot: {dot}
threshold: 50
mesh: {mesh}
margin: 0.1 in
angle: {angle}
art: {{treat: {treat}}}
tone: {{endpoints: off, hold: {hold}}}
marks: {{label: {marks}, ruler: {marks}, solid: {marks}}}
write: [{write}]
"""


def film_of(art: Path, folder: Path, **wishes: object) -> FinishedFilm:
    """The film of one art under a profile of the given wishes."""
    text = PROFILE.format(
        **{
            "sheet": "3 x 3 in",
            "dpi": 300,
            "lpi": 25,
            "dot": "round",
            "mesh": "none",
            "angle": 45,
            "treat": "tone",
            "hold": "off",
            "marks": "false",
            "write": "tiff",
        }
        | wishes
    )
    profile = read_profile(text, name="test", file="test.yaml")
    out, scratch = folder / "out", folder / "scratch"
    for place in (out, scratch):
        place.mkdir(exist_ok=True)
    request = JobRequest(art=art, name=art.name, profile=profile, out=out, scratch=scratch)
    return make_films(request).films[0]


def flat(folder: Path, code: int, size: tuple[int, int] = (500, 500)) -> Path:
    path = folder / f"flat-{code}.png"
    Image.new("L", size, code).save(path)
    return path


def ink_of(film: FinishedFilm) -> NDArray[np.bool_]:
    """The film's bits as tifffile reads them: True = ink (MinIsWhite stores ink as 1)."""
    path = next(path for kind, path in film.files.items() if kind == "tiff")
    with tifffile.TiffFile(path) as file:
        page = file.pages[0]
        assert page.photometric == tifffile.PHOTOMETRIC.MINISWHITE
        return page.asarray().astype(bool)


def screen_by_czt(
    bits: NDArray[np.bool_], dpi: tuple[int, int], lpi: float
) -> tuple[float, float, float]:
    """Ruling, angle (counter-clockwise, y up) and how strong the axis at a right angle is."""
    height, width = bits.shape
    window = np.hanning(height)[:, None] * np.hanning(width)[None, :]
    leveled = (bits - bits.mean()) * window
    power = np.abs(np.fft.fft2(leveled))
    down, across = np.fft.fftfreq(height) * dpi[1], np.fft.fftfreq(width) * dpi[0]
    radius = np.hypot(down[:, None], across[None, :])
    near = (radius > 0.8 * lpi) & (radius < 1.25 * lpi)
    row, column = np.unravel_index(np.where(near, power, 0).argmax(), power.shape)
    y, x = down[row], across[column]
    span = (2 * dpi[1] / height, 2 * dpi[0] / width)
    for _ in range(3):  # zoom in on the peak
        ys, xs = (np.linspace(c - s, c + s, 33) for c, s in ((y, span[0]), (x, span[1])))

        def zoom(values: NDArray[np.complex128], points: NDArray[np.float64], rate: int, axis: int):
            step = np.exp(-2j * np.pi * (points[1] - points[0]) / rate)
            first = np.exp(2j * np.pi * points[0] / rate)
            return signal.czt(values, m=points.size, w=step, a=first, axis=axis)

        found = np.abs(zoom(zoom(leveled, xs, dpi[0], 1), ys, dpi[1], 0))
        i, j = np.unravel_index(found.argmax(), found.shape)
        y, x = ys[i], xs[j]
        span = (span[0] / 12, span[1] / 12)
    turned = (radius > 0) & (np.hypot(down[:, None] - x, across[None, :] + y) < 3 * lpi / 25)
    there = (radius > 0) & (np.hypot(down[:, None] - y, across[None, :] - x) < 3 * lpi / 25)
    strength = float((power[turned] ** 2).sum() / (power[there] ** 2).sum())
    return float(np.hypot(x, y)), float(np.degrees(np.arctan2(-y, x)) % 180), strength


SCREENS = [
    *itertools.product((300,), (20, 25, 35, 45, 55), (0, 15, 22.5, 45, 75), ("round",)),
    *itertools.product((600,), (25, 45, 65), (7.5, 22.5, 67.5), ("round",)),
    *itertools.product((600,), (45,), (30,), ("ellipse",)),
    *itertools.product(("600 x 1200",), (45,), (22.5, 75), ("round",)),
    *itertools.product((300,), (30,), (22.5, 112.5, 150), ("line",)),
]


@pytest.mark.parametrize(("dpi", "lpi", "angle", "dot"), SCREENS)
def test_ruling_and_angle_of_a_film_are_as_asked(
    tmp_path: Path, dpi: int | str, lpi: float, angle: float, dot: str
) -> None:
    film = film_of(flat(tmp_path, 178), tmp_path, dpi=dpi, lpi=lpi, angle=angle, dot=dot)
    made = film.record["screen"]
    bits = ink_of(film)[60:-60, 60:-60]
    found_lpi, direction, right_angle = screen_by_czt(bits, tuple(film.record["film"]["dpi"]), lpi)
    assert found_lpi == pytest.approx(lpi, rel=0.001)
    assert found_lpi == pytest.approx(made["lpi_made"], rel=0.0002)
    if dot == "line":
        # The frequency lies at a right angle to the lines, and there is only one.
        assert (direction - 90 - angle + 90) % 180 - 90 == pytest.approx(0, abs=0.05)
        assert right_angle < 0.05
    else:
        assert (direction - angle + 45) % 90 - 45 == pytest.approx(0, abs=0.05)
        assert right_angle == pytest.approx(1, abs=0.2) or dot == "ellipse"


def test_there_are_at_least_forty_screens() -> None:
    assert len(SCREENS) >= 40


@pytest.mark.parametrize("code", [0, 1, 13, 51, 102, 140, 178, 204, 242, 254, 255])
def test_coverage_of_a_flat_gray_is_its_tone(tmp_path: Path, code: int) -> None:
    # Tone as IEC 61966-2-1 coded gray: 140 is 45.1 %.
    if code in (0, 255):
        from filmhand.errors import Reason, Refused

        with pytest.raises(Refused) as refused:
            film_of(flat(tmp_path, code), tmp_path)
        assert refused.value.reason is Reason.BLANK
        return
    bits = ink_of(film_of(flat(tmp_path, code), tmp_path, lpi=25, angle=22.5))
    art = bits[30:-30, 30:-30]
    assert art.mean() * 100 == pytest.approx(100 * (1 - code / 255), abs=0.12)


def test_the_classroom_film(tmp_path: Path) -> None:
    """25 lpi at 45 degrees, round dots, 300 dpi: the classroom's common practice, no source."""
    art = flat(tmp_path, 204, (850, 1100))
    film = film_of(
        art,
        tmp_path,
        sheet="8.5 x 11 in",
        mesh="43-80",
        hold="auto",
        marks="true",
        write="tiff, pdf",
    )
    record = film.record
    assert (record["film"]["width_px"], record["film"]["height_px"]) == (2550, 3300)
    assert record["screen"]["levels"] == 145
    bits = ink_of(film)
    labels, count = ndimage.label(bits[300:-500, 300:-300])
    areas = np.bincount(labels.ravel())[1:]
    cut = np.unique(np.r_[labels[0], labels[-1], labels[:, 0], labels[:, -1]])
    whole = np.delete(areas, cut[cut > 0] - 1)
    assert count > 2000
    assert whole.max() - whole.min() <= 1
    assert whole.mean() == pytest.approx(0.2 * 144, rel=0.01)
    checks = {check["name"]: check for check in record["checks"]}
    assert checks["smallest dot"]["warn_limit"] == pytest.approx(312.6, abs=0.1)
    assert checks["smallest dot"]["fail_limit"] == pytest.approx(113.1, abs=0.1)
    with pikepdf.open(film.files["pdf"]) as document:  # type: ignore[index]
        box = [float(value) for value in document.pages[0].MediaBox]
    assert box == [0, 0, 612, 792]  # 8.5 x 11 inches in points


def test_a_second_run_gives_the_same_bytes(tmp_path: Path) -> None:
    art = tmp_path / "ramp.png"
    Image.fromarray(np.tile(np.linspace(0, 255, 600).astype(np.uint8), (400, 1))).save(art)
    seen = []
    for name in ("one", "two"):
        folder = tmp_path / name
        folder.mkdir()
        film = film_of(
            art, folder, marks="true", mesh="43-80", hold="auto", write="tiff, png, pdf, pwg"
        )
        seen.append({str(kind): path.read_bytes() for kind, path in film.files.items()})
        seen[-1]["record"] = json.dumps(film.record).encode()
    assert seen[0] == seen[1]


def test_minimum_dot_films_have_no_dot_that_the_mesh_would_not_print_evenly(tmp_path: Path) -> None:
    """Measured on pictures of scikit-image (public domain and CC0), by scipy.ndimage."""
    data = pytest.importorskip("skimage.data")
    for name in ("camera", "astronaut"):
        art = tmp_path / f"{name}.png"
        Image.fromarray(getattr(data, name)()).save(art)
        film = film_of(art, tmp_path, sheet="6 x 6 in", mesh="43-80", hold="auto")
        bits = ink_of(film)[30:-30, 30:-30]
        least = np.pi / 4 * (152.558 + 2 * 80) ** 2 / (25400 / 300) ** 2
        for color in (bits, ~bits):
            labels, _ = ndimage.label(color)
            areas = np.bincount(labels.ravel())
            cut = np.unique(np.r_[labels[0], labels[-1], labels[:, 0], labels[:, -1]])
            whole = np.delete(areas, np.unique(np.append(cut, 0)))
            assert whole.size > 1000
            assert (whole < least).mean() < 0.0002


def test_a_film_of_grain_has_its_tone_and_no_angle(tmp_path: Path) -> None:
    art = flat(tmp_path, 178)  # tone 30.2 %
    film = film_of(art, tmp_path, dot="grain", lpi=35, mesh="43-80", hold="auto")
    bits = ink_of(film)
    inside = bits[60:-60, 60:-60]
    assert inside.mean() == pytest.approx(1 - 178 / 255, abs=0.004)
    screen = film.record["screen"]
    assert (screen["dot"], screen["angle_made"]) == ("grain", None)
    assert screen["lpi_made"] == pytest.approx(35, rel=1e-3)
    assert not any(check["name"] == "moire" for check in film.record["checks"])
    first = next(iter(film.files.values())).read_bytes()
    again = film_of(art, tmp_path, dot="grain", lpi=35, mesh="43-80", hold="auto")
    assert next(iter(again.files.values())).read_bytes() == first


@pytest.mark.parametrize("dot", ["ellipse 0.6", "spot cos(180*x)/2 + cos(180*y)/2"])
def test_films_of_other_shapes_have_their_tone_and_screen(tmp_path: Path, dot: str) -> None:
    film = film_of(flat(tmp_path, 200), tmp_path, dot=dot, lpi=30, angle=22.5)
    bits = ink_of(film)
    assert bits[60:-60, 60:-60].mean() == pytest.approx(1 - 200 / 255, abs=0.004)
    lpi, angle, _ = screen_by_czt(bits[60:-60, 60:-60], (300, 300), 30)
    assert lpi == pytest.approx(30, rel=1e-3)
    assert angle % 90 == pytest.approx(22.5, abs=0.05)
    assert film.record["screen"]["dot"] == dot


def test_a_press_that_adds_20_points_is_undone_whichever_way_it_is_told(tmp_path: Path) -> None:
    """Films of flat grays, whose dots SciPy then grows by what makes 70 of a 50 % film.

    What such a press prints must cover the art's tone, or reflect what the art reflects (code 128
    is 0.2159 of white, IEC 61966-2-1); measured pairs of that very press must give the same film,
    as far as edges that move by four pixels can be measured.
    """
    asked = {"sheet": "1 x 1 in", "dpi": 1200, "angle": 22.5}

    def film(code: int, tone: str) -> tuple[FinishedFilm, NDArray[np.bool_]]:
        made = film_of(flat(tmp_path, code), tmp_path, **asked, hold=f"off, {tone}")
        return made, ink_of(made)[130:-130, 130:-130]

    def printed(ink: NDArray[np.bool_], reach: float) -> float:
        return float((ndimage.distance_transform_edt(~ink) <= reach)[20:-20, 20:-20].mean())

    _, half = film(128, "gain: 0")
    assert half.mean() == pytest.approx(0.498, abs=0.003)
    away = ndimage.distance_transform_edt(~half)[20:-20, 20:-20]
    reach = float(np.quantile(away, 0.698))
    wedge = [5, 10, 20, 30, 40, 50, 60, 70, 80, 90, 95]
    grown = [printed(film(round(255 - 2.55 * tone), "gain: 0")[1], reach) for tone in wedge]
    pairs = [[tone, round(100 * share, 1)] for tone, share in zip(wedge, grown, strict=True)]
    for code, light in ((191, 0.521), (128, 0.2159), (64, 0.0513)):
        for aim, wanted in (("tone", 1 - code / 255), ("luminance", 1 - light)):
            _, by_number = film(code, f"gain: 20, aim: {aim}")
            told, by_pairs = film(code, f"gain: {pairs}, aim: {aim}")
            assert printed(by_number, reach) == pytest.approx(wanted, abs=0.015)
            assert printed(by_pairs, reach) == pytest.approx(wanted, abs=0.015)
            assert by_number.mean() == pytest.approx(by_pairs.mean(), abs=0.02)
    notes = told.record["notes"]
    assert sum("press curve" in note for note in notes) == 1
    assert not any("tone.aim is not given" in note for note in notes)
    told, _ = film(128, f"gain: {pairs}")
    notes = told.record["notes"]
    assert sum("tone.aim is not given" in note for note in notes) == 1
