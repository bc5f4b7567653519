"""Line art from paper, judged on its error against clean originals degraded on purpose."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from degraded import as_codes, coded, drawing, jpeg, on_paper, tone_samples
from scipy import ndimage

from filmhand.art.files.gray import light_of_codes
from filmhand.art.repair.line_cleaning import prepare_line

CLEAN, FINE, BOLD = drawing(), drawing(stroke=3, seed=3), drawing(stroke=26, seed=4)
FATES: dict[str, dict[str, float]] = {
    "pencil": {"paper": 0.45, "ink": 0.22, "grain": 0.03, "noise": 0.008, "blur": 0.8},
    "uneven": {
        "paper": 0.45, "ink": 0.2, "darkest": 0.5, "grain": 0.03, "noise": 0.01, "blur": 0.8,
    },
    "noisy": {
        "paper": 0.5, "ink": 0.25, "darkest": 0.5, "grain": 0.05, "noise": 0.03, "blur": 0.8,
    },
    "fine": {
        "paper": 0.5, "ink": 0.2, "darkest": 0.5, "grain": 0.04, "noise": 0.02, "blur": 0.6,
    },
    "faint": {"paper": 0.85, "ink": 0.5, "grain": 0.015, "noise": 0.008, "blur": 0.8},
    "pen": {"paper": 0.85, "ink": 0.05, "darkest": 0.35, "noise": 0.006, "blur": 0.7},
    "phone": {"paper": 0.7, "ink": 0.06, "darkest": 0.5, "noise": 0.01, "blur": 4},
    "sensor noise": {"paper": 0.8, "ink": 0.08, "noise": 0.05},
}  # fmt: skip
# what happened to it, the clean drawing, least overlap wanted
CASES = [
    ("pencil", FINE, 0.92), ("uneven", CLEAN, 0.94), ("noisy", CLEAN, 0.92), ("fine", FINE, 0.9),
    ("faint", CLEAN, 0.95), ("pen", CLEAN, 0.95), ("phone", BOLD, 0.94),
    ("sensor noise", CLEAN, 0.95),
]  # fmt: skip


def overlap(ink: Any, clean: Any) -> float:
    wanted = clean < 0.5
    return float((ink & wanted).sum() / (ink | wanted).sum())


def specks(ink: Any, clean: Any) -> int:
    """Pieces of ink that touch nothing within four pixels of a stroke."""
    near = ndimage.binary_dilation(clean < 0.5, iterations=4)
    return int(ndimage.label(ink & ~near)[1])


@pytest.mark.parametrize(("name", "clean", "least"), CASES, ids=[case[0] for case in CASES])
def test_strokes_come_back_and_paper_stays_bare(name: str, clean: Any, least: float) -> None:
    art = coded(on_paper(clean, **FATES[name]))
    ink = prepare_line(art, drawn=False).share > 32767
    assert overlap(ink, clean) > least
    assert overlap(ink, clean) > overlap(art < 32768, clean)  # better than a plain cut
    assert specks(ink, clean) <= 1
    assert ink.sum() == pytest.approx((clean < 0.5).sum(), rel=0.08)


def test_jpeg_of_a_shaded_pencil_drawing() -> None:
    art = jpeg(coded(on_paper(CLEAN, paper=0.5, ink=0.2, darkest=0.6, noise=0.02, blur=1)), 60)
    ink = prepare_line(art, drawn=False).share > 32767
    assert overlap(ink, CLEAN) > 0.92 and specks(ink, CLEAN) <= 1


def test_what_was_done_is_said() -> None:
    art = coded(on_paper(CLEAN, **FATES["noisy"]))
    notes = " ".join(prepare_line(art, drawn=False).notes)
    assert "evened out" in notes and "full ink" in notes and "Specks" in notes


@pytest.mark.parametrize("noise", [0.006, 0.02, 0.05])
@pytest.mark.parametrize(("ink", "faint"), [(0.05, False), (0.1, False), (0.4, True)])
def test_dark_strokes_are_not_taken_for_faint_ones(ink: float, faint: bool, noise: float) -> None:
    art = coded(on_paper(drawing(stroke=12), paper=0.8, ink=ink, noise=noise, blur=0.7))
    repairs = prepare_line(art, drawn=False).repairs
    assert [repair.kind.value for repair in repairs] == ["faded"] * faint


def test_drawn_art_is_its_codes() -> None:
    art = as_codes(CLEAN)
    made = prepare_line(art, drawn=True)
    assert np.array_equal(made.share, 65535 - art) and not made.notes


@pytest.mark.parametrize("drawn", [False, True])
def test_off_is_absolute(drawn: bool) -> None:
    art = coded(on_paper(CLEAN, **FATES["uneven"]))
    made = prepare_line(art, drawn=drawn, endpoints="off")
    assert np.array_equal(made.share, 65535 - art) and not made.notes


@pytest.mark.parametrize("name", ["ramp", "radial", "soft glow", "clouds", "skimage gravel"])
def test_ramps_and_photographs_are_not_evened(name: str) -> None:
    samples = tone_samples()
    if name not in samples:
        pytest.skip("scikit-image is not installed")
    made = prepare_line(samples[name], drawn=False)
    expected = (1 - light_of_codes()[samples[name]]) * 65535
    assert np.abs(made.share - expected).max() <= 1
    assert any("neither evened" in note for note in made.notes)


def test_dark_grounds_are_not_evened() -> None:
    art = coded(on_paper(1 - CLEAN, paper=0.9, ink=0.01, noise=0.002))
    ink = prepare_line(art, drawn=False).share > 32767
    assert overlap(ink, 1 - CLEAN) > 0.97


def test_large_solids_stay_solid() -> None:
    clean = np.ones((900, 1200))
    clean[200:700, 150:650] = 0
    clean[300:320, 700:1100] = 0
    art = coded(on_paper(clean, paper=0.6, ink=0.08, darkest=0.6, noise=0.01, blur=1))
    ink = prepare_line(art, drawn=False).share > 32767
    assert overlap(ink, clean) > 0.97


def test_bare_gray_paper_gives_nothing() -> None:
    art = coded(on_paper(np.ones((700, 900)), paper=0.4, ink=0.1, darkest=0.7, grain=0.04,
                         noise=0.02))  # fmt: skip
    made = prepare_line(art, drawn=False)
    assert (made.share > 32767).sum() == 0
    assert any("No stroke" in note for note in made.notes)


def test_two_numbers_clip_these_shares() -> None:
    art = np.linspace(10000, 50000, 100_000).astype(np.uint16).reshape(250, 400)
    share = prepare_line(art, drawn=False, endpoints=(10.0, 20.0)).share
    assert (share == 65535).mean() == pytest.approx(0.10, abs=0.002)
    assert (share == 0).mean() == pytest.approx(0.20, abs=0.002)


@pytest.mark.parametrize("shape", [(1, 1), (5, 3), (1, 3000), (17, 2000), (40, 40)])
def test_odd_shapes(shape: tuple[int, int]) -> None:
    rng = np.random.default_rng(2)
    for art in (np.full(shape, 65535, np.uint16), rng.integers(0, 65536, shape).astype(np.uint16)):
        assert prepare_line(art, drawn=False).share.shape == shape


def test_same_input_gives_same_output_and_is_left_alone() -> None:
    art = coded(on_paper(CLEAN, **FATES["noisy"]))
    before = art.copy()
    first, second = (prepare_line(art, drawn=False).share for _ in range(2))
    assert np.array_equal(first, second) and np.array_equal(art, before)
