"""Films for a printer that does not lay lengths down true, measured as that printer prints them.

tifffile reads the bits; the printed film is those bits with dpi / scale pixels to the inch,
which is reckoned here by hand. Ruling and angle come of SciPy's chirp z-transform.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tifffile
from PIL import Image
from scipy import ndimage
from test_finished_films import flat, screen_by_czt

from filmhand.pipeline.make import make_films
from filmhand.profile.read.load import read_profile
from filmhand.request import FinishedFilm, JobRequest

pytestmark = pytest.mark.outside

ACROSS, DOWN = 0.987, 1.014
BASE = {
    "sheet": "140 x 130 mm", "dpi": "300", "lpi": "25", "dot": "round", "threshold": "50",
    "mesh": "none", "margin": "3 mm", "angle": "22.5", "art": "{treat: tone}",
    "tone": "{endpoints: off, hold: off}", "print": "{scale: [98.7 %, 101.4 %]}", "write": "tiff",
    "marks": "{label: no, ruler: no, solid: no}",
}  # fmt: skip


def films_of(
    source: Path, folder: Path, ticket: str = "", **keys: str
) -> list[tuple[FinishedFilm, Any]]:
    """Records and bits of the films of one art."""
    text = "".join(f"{key}: {value}\n" for key, value in (BASE | keys).items())
    for name in ("out", "scratch"):
        (folder / name).mkdir(exist_ok=True)
    path = None
    if ticket:
        path = folder / f"{source.name}.ticket.yaml"
        path.write_text(ticket)
    request = JobRequest(
        art=source, name=source.name, ticket=path, out=folder / "out", scratch=folder / "scratch",
        profile=read_profile(text, name="scaled", file="scaled.yaml"),
    )  # fmt: skip
    return [
        (film, tifffile.imread(next(iter(film.files.values()))).astype(bool))
        for film in make_films(request).films
    ]


def pixel_mm(dpi: tuple[int, int] = (300, 300)) -> tuple[float, float]:
    """Width and height of a pixel on the acetate."""
    return 25.4 * ACROSS / dpi[0], 25.4 * DOWN / dpi[1]


def printed_size(bits: Any) -> tuple[float, float]:
    """Width and height in millimeters of all ink on the acetate."""
    rows, columns = np.flatnonzero(bits.any(1)), np.flatnonzero(bits.any(0))
    across, down = pixel_mm()
    return (float(columns[-1] - columns[0] + 1) * across, float(rows[-1] - rows[0] + 1) * down)


def inside_of(bits: Any) -> Any:
    """The inked part of a film without its edges."""
    rows, columns = np.flatnonzero(bits.any(1)), np.flatnonzero(bits.any(0))
    return bits[rows[0] + 80 : rows[-1] - 80, columns[0] + 80 : columns[-1] - 80]


def framed(folder: Path, size: tuple[int, int]) -> Path:
    """Solid art with a clear middle."""
    picture = np.zeros(size[::-1], np.uint8)
    picture[size[1] // 4 : -size[1] // 4, size[0] // 4 : -size[0] // 4] = 255
    path = folder / "frame.png"
    Image.fromarray(picture).save(path, dpi=(200, 200))
    return path


@pytest.mark.parametrize("dot", ["round", "ellipse", "diamond", "square", "line"])
@pytest.mark.parametrize(
    ("dpi", "lpi", "angle"), [((300, 300), 25, 22.5), ((600, 600), 45, 75), ((600, 1200), 45, 30)]
)
def test_dots_keep_ruling_and_angle_on_the_acetate(
    tmp_path: Path, dot: str, dpi: tuple[int, int], lpi: float, angle: float
) -> None:
    ((film, bits),) = films_of(
        flat(tmp_path, 178), tmp_path,
        sheet="75 x 75 mm", dpi=f"{dpi[0]} x {dpi[1]}", lpi=f"{lpi}", angle=f"{angle}", dot=dot,
    )  # fmt: skip
    inside = inside_of(bits)
    found, direction, _ = screen_by_czt(inside, (dpi[0] / ACROSS, dpi[1] / DOWN), lpi)
    turn, turned = (180, 90) if dot == "line" else (90, 0)
    off = (direction - turned - angle + turn / 2) % turn - turn / 2
    assert found == pytest.approx(lpi, rel=0.001)
    assert off == pytest.approx(0, abs=0.05)
    assert film.record["screen"]["lpi_made"] == pytest.approx(found, rel=0.0003)
    # As the file has it the ruling is wrong by more than a percent one way: the tool tells apart.
    flat_lpi, flat_direction, _ = screen_by_czt(inside, dpi, lpi)
    wrong = (flat_direction - turned - angle + turn / 2) % turn - turn / 2
    assert abs(flat_lpi / lpi - 1) > 0.002 or abs(wrong) > 0.2
    assert inside.mean() == pytest.approx((255 - 178) / 255, abs=0.004)
    assert film.record["film"]["dpi"] == list(dpi)
    assert film.record["film"]["scale_pct"] == [98.7, 101.4]
    assert bits.shape == (7500 * dpi[1] // 2540, 7500 * dpi[0] // 2540)


def test_scattered_dots_are_as_far_apart_across_as_down_on_the_acetate(tmp_path: Path) -> None:
    _, bits = films_of(flat(tmp_path, 235), tmp_path, dot="grain", print=SLANTED)[0]
    inside = inside_of(bits)
    _, count = ndimage.label(inside)
    across, down = 25.4 * 0.9 / 300, 25.4 * 1.1 / 300
    square_inches = inside.shape[0] * down * inside.shape[1] * across / 25.4**2
    assert (count / square_inches) ** 0.5 == pytest.approx(25, rel=0.02)
    # The ring of the spectrum lies as far out both ways: mean radius of power by direction.
    power = np.abs(np.fft.fft2(inside - inside.mean())) ** 2
    fy = np.fft.fftfreq(inside.shape[0], down / 25.4)[:, None]
    fx = np.fft.fftfreq(inside.shape[1], across / 25.4)[None]
    radius, ring = np.hypot(fx, fy), (np.hypot(fx, fy) > 10) & (np.hypot(fx, fy) < 35)
    lying, upright = ring & (np.abs(fx) > 2 * np.abs(fy)), ring & (np.abs(fy) > 2 * np.abs(fx))
    means = [float((power * radius)[part].sum() / power[part].sum()) for part in (lying, upright)]
    assert means[0] / means[1] == pytest.approx(1, abs=0.02)


SLANTED = "{scale: [90 %, 110 %]}"


@pytest.mark.parametrize(
    ("fit", "size"),
    [
        ("width 80 mm", (80.0, 60.0)),
        ("height 90 mm", (120.0, 90.0)),
        ("60 x 60 mm", (60.0, 45.0)),
        ("own", (101.6, 76.2)),
        ("page", None),
    ],
)
def test_art_has_its_size_on_the_acetate(
    tmp_path: Path, fit: str, size: tuple[float, float] | None
) -> None:
    art = framed(tmp_path, (800, 600))
    ((film, bits),) = films_of(
        art, tmp_path, art=f"{{treat: line, fit: {fit}, turn: never, trim: off}}"
    )
    across, down = pixel_mm()
    found = printed_size(bits)
    told = film.record["art"]
    assert (told["width_mm"], told["height_mm"]) == pytest.approx(found, abs=0.006)
    if size is None:
        # All of the sheet inside the margin, and the art's proportions.
        assert found[0] == pytest.approx(140 * ACROSS - 6, abs=3 * across)
        size = (found[0], found[0] * 3 / 4)
    assert found[0] == pytest.approx(size[0], abs=across)
    assert found[1] == pytest.approx(size[1], abs=down)


def test_bars_measure_100_mm_on_the_acetate(tmp_path: Path) -> None:
    art = framed(tmp_path, (300, 300))
    # Thin art in the middle, so that the bars stand alone in their row and column.
    ((_, bits),) = films_of(
        art,
        tmp_path,
        art="{treat: line, fit: width 30 mm, trim: off}",
        marks="{label: no, solid: no}",
    )
    across, down = pixel_mm()
    foot = bits[-round(3.5 / down) :]
    columns = np.flatnonzero(foot.all(0) | (foot.sum(0) > 0))
    assert (columns[-1] - columns[0] + 1) * across == pytest.approx(100, abs=across)
    side = bits[:, : round(6 / across)]
    side = side[: -round(5 / down)]
    rows = np.flatnonzero(side.any(1))
    assert (rows[-1] - rows[0] + 1) * down == pytest.approx(100, abs=down)


def test_joined_films_show_one_screen_of_the_size_asked_for(tmp_path: Path) -> None:
    made = films_of(
        flat(tmp_path, 178, (900, 900)), tmp_path, sheet="75 x 75 mm",
        art="{treat: tone, fit: width 120 mm, tile: auto, overlap: 5 mm}",
    )  # fmt: skip
    across, _ = pixel_mm()
    parts = [film.record["art"]["part"] for film, _ in made]
    widest = max(part["left_mm"] + part["width_mm"] for part in parts)
    assert widest == pytest.approx(120, abs=across)
    assert parts[0]["overlap_mm"] == pytest.approx(5, abs=across)
    for film, bits in made[:2]:
        rows, columns = np.flatnonzero(bits.any(1)), np.flatnonzero(bits.any(0))
        middle = bits[rows[0] + 140 : rows[-1] - 140, columns[0] + 140 : columns[-1] - 140]
        found, direction, _ = screen_by_czt(middle, (300 / ACROSS, 300 / DOWN), 25)
        assert found == pytest.approx(25, rel=0.002)
        assert (direction - 22.5 + 45) % 90 - 45 == pytest.approx(0, abs=0.1)
        part = film.record["art"]["part"]
        assert part["height_mm"] <= 75 * DOWN


def test_trial_patches_keep_their_rulings_on_the_acetate(tmp_path: Path) -> None:
    ((film, bits),) = films_of(
        flat(tmp_path, 178, (900, 900)), tmp_path,
        ticket="trial: {lpi: [20, 30]}\n",
    )  # fmt: skip
    across, down = pixel_mm()
    patches = film.record["trial"]
    assert [patch["screen"]["lpi_asked"] for patch in patches] == [20, 30]
    for patch in patches:
        left, top = round(patch["x_mm"] / across), round(patch["y_mm"] / down)
        wide, high = round(patch["width_mm"] / across), round(patch["height_mm"] / down)
        inside = bits[top + 5 : top + high - 5, left + 5 : left + wide - 5]
        lpi = patch["screen"]["lpi_asked"]
        found, _, _ = screen_by_czt(inside, (300 / ACROSS, 300 / DOWN), lpi)
        assert found == pytest.approx(lpi, rel=0.002)


def test_checks_measure_on_the_acetate(tmp_path: Path) -> None:
    plain = films_of(flat(tmp_path, 215), tmp_path, mesh="43-80", print="off")[0][0].record
    small = films_of(flat(tmp_path, 215), tmp_path, mesh="43-80", print=SMALL)[0][0].record

    def smallest(record: dict[str, Any]) -> float:
        return next(c["measured"] for c in record["checks"] if c["name"] == "smallest dot")

    # The same ruling holds the same share of a cell, in pixels that are smaller: about as large.
    assert smallest(small) == pytest.approx(smallest(plain), rel=0.02)
    assert small["art"]["ppi"] > plain["art"]["ppi"]


SMALL = "{scale: [90 %, 90 %]}"
