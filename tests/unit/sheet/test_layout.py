"""Where the art lies."""

from __future__ import annotations

import pytest

from filmhand.errors import Reason, Refused
from filmhand.profile.model import Profile
from filmhand.profile.read.load import read_profile
from filmhand.sheet.layout import plan_sheet

BASE = {
    "sheet": "8.5 x 11 in", "dpi": "300", "lpi": "25", "dot": "round", "threshold": "50",
    "mesh": "43-80", "margin": "0.25 in",
}  # fmt: skip
BARE = "{label: false, ruler: false, solid: false}"


def profile(**wishes: str) -> Profile:
    text = "".join(f"{key}: {value}\n" for key, value in (BASE | wishes).items())
    return read_profile(text, name="test", file="test.yaml")


def test_without_marks_the_art_has_the_whole_area_inside_the_margin() -> None:
    layout = plan_sheet(profile(marks=BARE), art_px=(800, 1050), art_ppi=None)
    assert (layout.sheet.width, layout.sheet.height) == (2550, 3300)
    assert (layout.art.left, layout.art.top) == (75, 75)
    assert (layout.art.width, layout.art.height) == (2400, 3150)
    assert layout.ppi == pytest.approx(100)


def test_marks_keep_their_strips_free() -> None:
    layout = plan_sheet(profile(), art_px=(100, 400), art_ppi=None)
    assert layout.art.bottom <= 3300 - 75 - round(10 / 25.4 * 300)
    assert layout.art.top >= 75
    wide = plan_sheet(profile(), art_px=(400, 400), art_ppi=None)
    assert wide.art.left >= 75 + round(5 / 25.4 * 300)


def test_turned_when_that_prints_larger() -> None:
    wide = plan_sheet(profile(), art_px=(1500, 1000), art_ppi=None)
    assert wide.turned == 90
    assert wide.art.height > wide.art.width
    assert wide.art_mm[1] / wide.art_mm[0] == pytest.approx(1.5, rel=0.002)
    assert plan_sheet(profile(art="{turn: never}"), art_px=(1500, 1000), art_ppi=None).turned == 0
    assert plan_sheet(profile(), art_px=(1000, 1000), art_ppi=None).turned == 0


@pytest.mark.parametrize(
    ("fit", "width_mm", "height_mm"),
    [("width 7 in", 177.8, 88.9), ("height 60 mm", 120, 60), ("width 100 mm", 100, 50)],
)
def test_exact_sizes(fit: str, width_mm: float, height_mm: float) -> None:
    layout = plan_sheet(profile(art=f"{{fit: {fit}}}"), art_px=(1000, 500), art_ppi=None)
    assert layout.art_mm == pytest.approx((width_mm, height_mm), abs=25.4 / 300)


def test_own_size_comes_from_the_file_or_is_refused() -> None:
    wishes = profile(art="{fit: own}")
    layout = plan_sheet(wishes, art_px=(1200, 600), art_ppi=(200, 200))
    assert layout.art_mm == pytest.approx((152.4, 76.2), abs=0.1)
    with pytest.raises(Refused) as refused:
        plan_sheet(wishes, art_px=(1200, 600), art_ppi=None)
    assert refused.value.reason is Reason.TOO_SMALL
    with pytest.raises(Refused) as refused:
        plan_sheet(wishes, art_px=(9000, 9000), art_ppi=(300, 300))
    assert refused.value.reason is Reason.TOO_BIG


def test_a_size_that_fits_only_turned_is_turned() -> None:
    layout = plan_sheet(profile(art="{fit: width 9.5 in}"), art_px=(1000, 400), art_ppi=None)
    assert layout.turned == 90
    assert layout.art_mm[1] == pytest.approx(241.3, abs=0.1)


@pytest.mark.parametrize(
    ("place", "left", "top"),
    [("top-left", 0, 0), ("center", 0.5, 0.5), ("bottom-right", 1, 1), ("top", 0.5, 0)],
)
def test_places(place: str, left: float, top: float) -> None:
    wishes = profile(art=f"{{fit: width 3 in, place: {place}}}", marks=BARE)
    art = plan_sheet(wishes, art_px=(600, 600), art_ppi=None).art
    assert art.left == 75 + int((2400 - 900) * left)
    assert art.top == 75 + int((3150 - 900) * top)


@pytest.mark.parametrize("dpi", ["600 x 1200", "300", "720"])
@pytest.mark.parametrize("sheet", ["a4", "13 x 19 in", "100 x 50 mm"])
@pytest.mark.parametrize("art_px", [(10, 10), (3000, 4), (4, 3000), (1234, 777)])
def test_art_never_leaves_the_margin(dpi: str, sheet: str, art_px: tuple[int, int]) -> None:
    wishes = profile(dpi=dpi, sheet=sheet, margin="[3 mm, 4 mm, 18 mm, 5 mm]")
    layout = plan_sheet(wishes, art_px=art_px, art_ppi=None)
    x, y = wishes.dpi.x, wishes.dpi.y
    assert layout.art.left >= 5 / 25.4 * x - 1e-6
    assert layout.art.right <= layout.sheet.width - 4 / 25.4 * x + 1e-6
    assert layout.art.top >= 3 / 25.4 * y - 1e-6
    assert layout.art.bottom <= layout.sheet.height - 18 / 25.4 * y + 1e-6
    assert layout.art.width >= 1
    assert layout.art.height >= 1
