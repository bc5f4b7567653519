"""What checks that do not pass say, the figures in it, and the changes that would be tried."""

from __future__ import annotations

from dataclasses import replace
from itertools import islice
from math import pi, sqrt
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from filmhand.errors import Quantity, Reason, Refused
from filmhand.mesh.bitmap.strokes import ThinPiece, ThinPieces
from filmhand.mesh.checks import Check, CheckName, Verdict
from filmhand.mesh.limits import Feature, MeshLimits
from filmhand.mesh.table import MESHES, read_mesh
from filmhand.pipeline.verdict import judge, remedies
from filmhand.pipeline.verdict.inspection import SmallestHeld, census_of
from filmhand.pipeline.verdict.refusals import CheckFailed, refuse_on, where_it_passes
from filmhand.pipeline.verdict.told_places import places_told
from filmhand.pipeline.verdict.verdict_words import OfferWord
from filmhand.profile.model import Profile
from filmhand.profile.read.load import read_profile
from filmhand.profile.ticket.ticket import Ticket
from filmhand.request import JobRequest
from filmhand.sheet.layout import Box, Layout
from filmhand.units import Resolution

TEXT = "sheet: a4\ndpi: 600\nlpi: 25\ndot: round\nthreshold: 50\nmesh: 43-80\nmargin: 5 mm\n"
ALL = Box(0, 0, 4960, 7015)


def profile_of(more: str = "", **changes: str) -> Profile:
    text = TEXT
    for key, value in changes.items():
        text = "".join(
            f"{key}: {value}\n" if line.startswith(f"{key}:") else f"{line}\n"
            for line in text.splitlines()
        )
    return read_profile(text + more, name="p", file="p.yaml")


def layout_of(art_mm: tuple[float, float] = (100.0, 150.0), turned: int = 0) -> Layout:
    return Layout(ALL, ALL, ALL, ALL, turned, art_mm, 100.0)


def check(
    name: CheckName, measured: float | None, fail: float | None, warn: float | None, verdict: str
) -> Check:
    return Check(name, measured, warn, fail, Verdict(verdict))


FEW_PIXELS = check(CheckName.ART_RESOLUTION, 20.06, 25.04, 35.35, "fail")
SMALL_DOT = check(CheckName.SMALLEST_DOT, 99.96, 113.14, 309, "fail")
THIN = check(CheckName.NARROWEST_STROKE, 84.7, 113.14, 309, "fail")
BANDS = Check(CheckName.MOIRE, 0.1234, 0.02, 0.1, Verdict.FAIL, detail="bands 8.1 mm apart")


def request_of(
    profile: Profile, ticket: Path | None = None, mask: Path | None = None
) -> JobRequest:
    here = Path()
    return JobRequest(here, "art.png", profile, here, here, ticket=ticket, mask=mask)


def passes(told: Check, profile: Profile, **beside: Path) -> str:
    return where_it_passes(told, profile, layout_of(), request_of(profile, **beside), Ticket())


def refusal_of(failed: Check, profile: Profile, layout: Layout, where: str = "") -> CheckFailed:
    good = check(CheckName.SMALLEST_DOT, 400, 113, 309, "warn")
    with pytest.raises(CheckFailed) as caught:
        refuse_on([good, failed, BANDS], profile, layout, where=where)
    assert (caught.value.check, caught.value.layout) == (failed, layout)
    return caught.value


@pytest.mark.parametrize(
    ("failed", "more", "reason", "say", "do", "found", "needed"),
    [
        (SMALL_DOT, "", Reason.DOTS_TOO_FINE,
         "The smallest dots on this film measure 100 µm; on mesh 110 (43-80) anything of 113 µm "
         "or less can lie on threads alone and not print.", "Smooth the grain",
         (100.0, "um"), (113.0, "um")),
        (SMALL_DOT, "tone: {hold: off}\n", Reason.DOTS_TOO_FINE, "The smallest dots",
         "Set tone: {hold: auto}", (100.0, "um"), (113.0, "um")),
        (THIN, "", Reason.LINES_TOO_FINE,
         "The narrowest strokes of this drawing measure 85 µm (0.24 pt) on the film; on "
         "mesh 110 (43-80) strokes of 113 µm (0.32 pt) or less would not print.",
         "Print it larger",
         (85.0, "um"), (113.0, "um")),
        (BANDS, "", Reason.MOIRE,
         "Dots and threads of mesh 110 (43-80) would show moire: bands 8.1 mm apart; their "
         "visibility is "
         "0.12, and this profile allows at most 0.1.",
         "Use another angle", (0.12, "visibility"), (0.1, "visibility")),
        # As many digits as it takes to be over or under the limit.
        (replace(BANDS, measured=0.1004), "", Reason.MOIRE,
         "Dots and threads of mesh 110 (43-80) would show moire: bands 8.1 mm apart; their "
         "visibility is "
         "0.1004, and this profile allows at most 0.1.",
         "Use another angle", (0.1004, "visibility"), (0.1, "visibility")),
        (replace(FEW_PIXELS, measured=24.96, fail_limit=25.0), "", Reason.TOO_SMALL,
         "At 100 x 150 mm (3.94 x 5.91 in) this picture has 24.96 pixels to the inch, and a screen "
         "of 25 lpi needs at least 25.", "Bring the picture", (24.96, "ppi"), (25.0, "ppi")),
        # 100 mm at 25 pixels to the inch are 98 pixels; half as many again are 148, said as 150.
        (FEW_PIXELS, "", Reason.TOO_SMALL,
         "At 100 x 150 mm (3.94 x 5.91 in) this picture has 20.1 pixels to the inch, and a screen "
         "of 25 lpi needs at least 25.", "Bring the picture with about 150 x 220 pixels.",
         (20.1, "ppi"), (25.0, "ppi")),
        (FEW_PIXELS, "art: {trim: auto}\n", Reason.TOO_SMALL, "At 100 x 150 mm",
         "about 150 x 220 pixels in what is left of it after art.crop and art.trim.",
         (20.1, "ppi"), (25.0, "ppi")),
    ],
)  # fmt: skip
def test_what_a_failed_check_says(
    failed: Check, more: str, reason: Reason, say: str, do: str, found: Any, needed: Any
) -> None:
    refused = refusal_of(failed, profile_of(more), layout_of())
    assert refused.reason is reason
    assert refused.say.startswith(say)
    assert do in refused.do
    assert (refused.found, refused.needed) == (Quantity(*found), Quantity(*needed))


def test_a_turned_picture_is_asked_for_upright() -> None:
    refused = refusal_of(FEW_PIXELS, profile_of(), layout_of(turned=90))
    assert "about 220 x 150 pixels." in refused.do


def test_where_it_is_and_what_was_tried() -> None:
    refused = refusal_of(THIN, profile_of(), layout_of(), "; worst at 1 x 2 mm")
    assert refused.say.endswith("or less would not print; worst at 1 x 2 mm.")
    assert refused.with_offers([]).do == refused.do
    wider = (
        " To keep size and mesh as they are, draw its finest strokes wider than 113 µm (0.32 pt) "
        "on the film."
    )
    assert refused.with_offers(["use mesh 61-64"]).do == (
        "This passes, tried with this art: use mesh 61-64." + wider
    )
    gap = replace(THIN, name=CheckName.NARROWEST_GAP)
    offered = refusal_of(gap, profile_of(), layout_of()).with_offers(["use mesh 61-64"])
    assert offered.do.endswith(wider.replace("strokes", "gaps"))
    dots = refusal_of(SMALL_DOT, profile_of(), layout_of()).with_offers(["use mesh 61-64"])
    assert dots.do == "This passes, tried with this art: use mesh 61-64."
    two = refused.with_offers(["print it at least 9 mm wide", "use mesh 61-64"])
    assert two.do == (
        "Each of these passes, tried with this art: print it at least 9 mm wide; or use mesh 61-64."
        + wider
    )
    few = refusal_of(FEW_PIXELS, profile_of(), layout_of()).with_offers(["a", "b", "c"])
    assert few.do == (
        "Each of these passes, tried with this art: a; b; or c. To keep size and ruling as they "
        "are, more pixels are needed. Bring the picture with about 150 x 220 pixels."
    )
    assert (two.reason, two.say, two.found) == (refused.reason, refused.say, refused.found)


@pytest.mark.parametrize(
    ("told", "says"),
    [
        # 30 of 36 ppi: five sixths of the size or of the ruling, rounded down.
        (check(CheckName.ART_RESOLUTION, 30, 25, 36, "warn"),
         "It would pass without this warning at 83 x 125 mm (3.28 x 4.92 in) or 20 lpi: "
         "rename it “art [83 mm].png” or “art [20 lpi].png”."),
        (check(CheckName.ART_RESOLUTION, 30, None, 36, "warn"),
         "It would pass without this warning at 83 x 125 mm (3.28 x 4.92 in): rename it "
         "“art [83 mm].png”."),
        (check(CheckName.ART_RESOLUTION, 7, 5, 36, "warn"),
         "It would pass without this warning at 19 x 29 mm (0.76 x 1.14 in): rename it "
         "“art [19 mm].png”."),
        # 14 x 21 mm would pass, which nobody prints.
        (check(CheckName.ART_RESOLUTION, 5, None, 36, "warn"),
         "At 100 x 150 mm (3.94 x 5.91 in) it wants 142 x 213 pixels."),
        (check(CheckName.ART_RESOLUTION, 40, 25, 36, "pass"), ""),
        # (17 - 1) / (65 - 1) is a quarter, and half the ruling has four times the sizes.
        (check(CheckName.GRAY_LEVELS, 17, None, 65, "warn"),
         "It would pass without this warning at 12 lpi: rename it “art [12 lpi].png”."),
        (check(CheckName.MESH_TO_LPI_RATIO, 3, None, 3.75, "warn"),
         "It would pass without this warning at 20 lpi: rename it “art [20 lpi].png”."),
        (check(CheckName.MESH_TO_LPI_RATIO, 0.8, None, 4, "warn"),
         "It would pass without this warning at 5 lpi: rename it “art [5 lpi].png”."),
        (check(CheckName.MESH_TO_LPI_RATIO, 0.79, None, 4, "warn"), ""),
        (check(CheckName.SMALLEST_DOT, 99, 113, 309, "fail"), ""),
        (check(CheckName.SMALLEST_DOT, None, 113, 309, "warn"), ""),
        (check(CheckName.MOIRE, 9, 4, None, "fail"), ""),
    ],
)  # fmt: skip
def test_from_where_on_a_check_passes(told: Check, says: str) -> None:
    assert passes(told, profile_of()) == says


@pytest.mark.parametrize(
    ("fit", "ppi", "offered"),
    [
        ("width 100 mm", 17.9, False),  # under half of the width that was asked for
        ("width 100 mm", 18.0, True),
        ("own", 17.9, False),
        ("page", 7.0, True),  # nobody asked for a size
    ],
)
def test_a_size_or_ruling_far_from_the_wished_one_is_not_offered(
    fit: str, ppi: float, offered: bool
) -> None:
    told = check(CheckName.ART_RESOLUTION, ppi, 5, 36, "warn")
    profile = profile_of(f"art: {{fit: {fit}}}\n")
    assert bool(passes(told, profile)) is offered


def test_a_stroke_under_two_limits_is_told_once() -> None:
    """The mesh's and the stencil's: one sentence, one warning on the label."""
    stroke = check(CheckName.NARROWEST_STROKE, 82.45, 80, 90.51, "warn")
    stencil = check(CheckName.STENCIL_STROKE, 82.45, None, 100, "warn")
    gap = check(CheckName.STENCIL_GAP, 97.29, None, 150, "warn")
    passing = check(CheckName.NARROWEST_GAP, 97.29, 80, 90.51, "pass")
    checks = [stroke, passing, stencil, gap]
    assert judge.checks_to_tell(checks) == [stroke, gap]
    work: Any = SimpleNamespace(
        checks=checks,
        missed=list,
        profile=profile_of(),
        layout=layout_of(),
        request=request_of(profile_of()),
        ticket=Ticket(),
    )
    assert judge.warnings(work) == ["WARN narrowest stroke 82 µm", "WARN gap for the stencil 97 µm"]
    assert judge._warned(work, stroke, []).said == (
        "The finest strokes may print unevenly or break: narrowest stroke 82 µm, wanted at least "
        "91 µm. Emulsion and film want at least 100 µm on any mesh."
    )
    assert judge._stencil_wants(replace(stroke, warn_limit=100.0), checks) == ""
    assert judge._stencil_wants(stroke, [replace(stencil, verdict=Verdict.PASS)]) == ""


@pytest.mark.parametrize(
    ("mirror", "turned", "shown", "says"),
    [
        # 10 mm from the left and 20 mm from the top of a sheet of 210 x 297 mm.
        (False, 90, True, "277 x 10 mm (10.9 x 0.39 in) from the top left corner of the film as"),
        (True, 90, True, "20 x 200 mm (0.79 x 7.87 in) from the top left corner of the film as"),
        (False, 0, True, "10 x 20 mm (0.39 x 0.79 in) from the sheet's top left corner"),
        (False, 90, False, "10 x 20 mm (0.39 x 0.79 in) from the sheet's top left corner"),
    ],
)
def test_places_on_a_turned_proof_are_told_as_seen_there(
    mirror: bool, turned: int, shown: bool, says: str
) -> None:
    profile = profile_of(f"film: {{mirror: {str(mirror).lower()}}}\n")
    place = Box(round(10 / 25.4 * 600), round(20 / 25.4 * 600), 0, 0)
    layout = layout_of(turned=turned)
    assert places_told([place], profile, shown=layout if shown else None).startswith(says)


@pytest.mark.parametrize(("sizes", "lpi"), [(17, 50), (33, 70)])
def test_sizes_of_a_dot_go_by_the_square_of_the_ruling(sizes: float, lpi: int) -> None:
    """One size is no dot: 65 sizes are 64 pixels of a cell, and 17 are a quarter of them."""
    told = check(CheckName.GRAY_LEVELS, sizes, None, 65, "warn")
    profile = profile_of(lpi="100")
    assert passes(told, profile) == (
        f"It would pass without this warning at {lpi} lpi: rename it “art [{lpi} lpi].png”."
    )
    assert passes(told, profile, ticket=Path("t.yaml")) == (
        f"It would pass without this warning at {lpi} lpi: write lpi: {lpi} in its ticket."
    )
    assert passes(told, profile, mask=Path("m.png")) == (
        f"It would pass without this warning at {lpi} lpi."
    )


@pytest.mark.parametrize(
    ("told", "says", "label"),
    [
        (check(CheckName.SMALLEST_DOT, 200, 113, 309, "warn"),
         "Some dots may print unevenly or not at all: smallest dot 200 µm, wanted at least 309 µm"
         "; worst here.", "WARN smallest dot 200 µm"),
        (check(CheckName.SMALLEST_DOT, 99.96, 113.14, 309, "fail"),
         "Some dots may print unevenly or not at all: smallest dot 100 µm, wanted more than "
         "113 µm, made all the same because the ticket asks for it; worst here.",
         "FAIL smallest dot 100 µm"),
        (replace(BANDS, measured=0.0204, verdict=Verdict.WARN),
         "Dots and threads may show as visible bands: moire visibility 0.0204 (bands 8.1 mm "
         "apart), wanted at most 0.02; worst here.", "WARN moire visibility 0.0204"),
        (check(CheckName.MESH_TO_LPI_RATIO, 3.4996, None, 3.5, "warn"),
         "The mesh is coarse for this screen: mesh-to-line ratio 3.4996 : 1, wanted at least "
         "3.5 : 1; worst here.", "WARN mesh-to-line ratio 3.4996 : 1"),
        (check(CheckName.MESH_TO_LPI_RATIO, 3.456, None, 3.5, "warn"),
         "The mesh is coarse for this screen: mesh-to-line ratio 3.46 : 1, wanted at least "
         "3.5 : 1; worst here.", "WARN mesh-to-line ratio 3.46 : 1"),
    ],
)  # fmt: skip
def test_a_check_in_a_sentence_and_on_a_label(told: Check, says: str, label: str) -> None:
    sheet = profile_of().sheet
    assert judge.check_sentence(told, sheet, "; worst here") == says
    assert judge.check_sentence(told, sheet) == says.replace("; worst here", "")
    good = check(CheckName.SMALLEST_DOT, 400, 113, 309, "pass")
    work: Any = SimpleNamespace(
        checks=[good, told],
        missed=list,
        profile=SimpleNamespace(frame=None, acetate_dpi=None),
        layout=None,
    )
    assert judge.warnings(work) == [label]


@pytest.mark.parametrize(
    ("ink", "found", "words"),
    [(0, 0.0, "clear film"), (10, 100.0, "one solid block"), (9, None, ""), (1, None, "")],
)
def test_art_that_is_all_bare_or_all_black(ink: int, found: float | None, words: str) -> None:
    work: Any = SimpleNamespace(copies=SimpleNamespace(pixels=10), of_set=None)
    counted: Any = SimpleNamespace(dots=SimpleNamespace(pixels=ink))
    if found is None:
        judge._refuse_blank(work, counted)
        return
    with pytest.raises(Refused, match=words) as caught:
        judge._refuse_blank(work, counted)
    assert caught.value.reason is Reason.BLANK
    assert caught.value.found == Quantity(found, "% ink")


def test_one_ink_of_several_may_be_everywhere_but_not_nowhere() -> None:
    work: Any = SimpleNamespace(copies=SimpleNamespace(pixels=10), of_set="its place")
    counted: Any = SimpleNamespace(dots=SimpleNamespace(pixels=10))
    judge._refuse_blank(work, counted)
    counted.dots.pixels = 0
    with pytest.raises(Refused, match="clear film"):
        judge._refuse_blank(work, counted)


def circle(diameter_um: float, resolution: Resolution) -> int:
    """Whole pixels whose area is at least that of the circle."""
    across, down = 25400 / resolution.x, 25400 / resolution.y
    return int(np.ceil(pi / 4 * diameter_um**2 / (across * down)))


def test_the_sizes_that_are_mended_to_follow_from_the_limits() -> None:
    """Of 600 x 300 dpi a pixel is 42.3 x 84.7 µm."""
    dpi = Resolution(600, 300)
    limits = MeshLimits.of(read_mesh("43-80"), dot=(100.0, 300.0), shadow_dot=(130.0, 310.0))
    held = SmallestHeld.to_pass(limits, dpi)
    assert held.dot.pixels == circle(100, dpi) + 1
    assert held.shadow_dot.pixels == circle(130, dpi) + 1
    assert held.dot.bridge == (3, 2)  # 127 and 169 µm are the first that are wider than 100
    assert held.shadow_dot.bridge == (4, 2)  # 169 and 169 for 130
    even = SmallestHeld.to_print_evenly(limits, dpi)
    assert (even.dot.pixels, even.shadow_dot.pixels) == (circle(300, dpi), circle(310, dpi))
    assert (even.dot.bridge, even.shadow_dot.bridge) == (held.dot.bridge, held.shadow_dot.bridge)
    less = even.at_most(5, even.shadow_dot.pixels + 1)
    assert (less.dot.pixels, less.shadow_dot.pixels) == (5, even.shadow_dot.pixels)
    assert less.dot.bridge == even.dot.bridge
    area = Box(3, 4, 50, 60)
    art: Any = SimpleNamespace(area=area, skip=3)
    assert census_of(art, smallest=less, barred=None)._keep == (even.shadow_dot.pixels, 5)
    assert census_of(art, smallest=None, barred=None)._keep == (0, 0)


def asked(changes: Any, count: int = 9) -> list[str]:
    return [change.words for change in islice(changes, count)]


def test_coarser_rulings_go_down_by_a_sixth_to_the_coarsest() -> None:
    changes = list(remedies._coarser(profile_of(), from_lpi=20.9))
    assert [change.profile.lpi for change in changes] == [20, 16, 13]
    assert changes[0].words == "screen it at 20 lpi"
    assert asked(remedies._coarser(profile_of(), from_lpi=25), 1) == ["screen it at 24 lpi"]
    assert asked(remedies._coarser(profile_of(lpi="24.5"), from_lpi=90), 1) == [
        "screen it at 24 lpi"
    ]
    assert asked(remedies._coarser(profile_of(), from_lpi=4.9)) == []
    assert asked(remedies._coarser(profile_of(), from_lpi=None)) == []


def failed_with(told: Check, layout: Layout | None = None) -> CheckFailed:
    return refusal_of(told, profile_of(), layout or layout_of())


def test_smaller_and_larger_sizes() -> None:
    profile = profile_of()
    few = failed_with(check(CheckName.ART_RESOLUTION, 20, 25, 36, "fail"))
    assert asked(remedies._smaller(few, profile)) == [
        "print it no larger than 80 mm (3.14 in) wide",
        "print it no larger than 72 mm (2.83 in) wide",
    ]
    turned = failed_with(check(CheckName.ART_RESOLUTION, 20, 25, 36, "fail"), layout_of(turned=90))
    (first, _) = remedies._smaller(turned, profile)
    assert first.words == "print it no larger than 120 mm (4.72 in) wide"
    assert (first.profile.art.fit.kind, first.profile.art.fit.mm) == ("width", 120)
    thin = failed_with(check(CheckName.NARROWEST_STROKE, 80, 100, 309, "fail"))
    # 1.05, 1.25 and 1.6 times 100 / 80 of 100 mm, rounded up, on A4 of 297 mm at most.
    assert asked(remedies._larger(thin, profile)) == [
        "print it at least 132 mm (5.2 in) wide",
        "print it at least 157 mm (6.19 in) wide",
        "print it at least 200 mm (7.88 in) wide",
    ]
    # A stroke of no width counts as a twentieth of the limit, and 21 times is no sensible size.
    none = failed_with(check(CheckName.NARROWEST_STROKE, 0, 100, 309, "fail"), layout_of((14, 9)))
    assert asked(remedies._larger(none, profile)) == ["print it at least 294 mm (11.58 in) wide"]
    tiled = profile_of("art: {tile: auto, fit: own}\n")
    assert asked(remedies._larger(none, tiled)) == [
        "print it at least 294 mm (11.58 in) wide",
        "print it at least 350 mm (13.78 in) wide",
        "print it at least 448 mm (17.64 in) wide",
    ]
    # Of 100 x 150 mm: 25.5 mm high, and 24, which nobody prints.
    assert list(remedies._sized(few, profile, 0.17, OfferWord.SMALLER))
    assert not list(remedies._sized(few, profile, 0.16, OfferWord.SMALLER))
    assert list(remedies._sized(few, profile, 2.97, OfferWord.LARGER))
    assert not list(remedies._sized(few, profile, 2.98, OfferWord.LARGER))


def test_finer_meshes_come_from_the_coarsest_on_and_those_in_stock_first() -> None:
    profile = profile_of()
    finer = sorted(
        (row for row in MESHES if row.usual and row.threads_per_cm > 43),
        key=lambda row: (not row.stocked, row.threads_per_cm),
    )
    names = {row: f"{row.inch_label} ({row.threads_per_cm:g}-{row.thread_um:g})" for row in finer}
    assert asked(remedies._meshes(profile), 99) == [f"use mesh {names[row]}" for row in finer]
    # 122 (48-70) is the next in the table, 125 (49-55) the next that shops have.
    assert asked(remedies._meshes(profile), 3) == [
        "use mesh 125 (49-55)", "use mesh 140 (55-64)", "use mesh 157 (62-64)",
    ]  # fmt: skip
    # A mesh holds dots over sqrt(2) threads; ten percent more are asked for.
    thin = failed_with(check(CheckName.NARROWEST_STROKE, 90, 113, 309, "fail"))
    assert asked(remedies._finer_meshes(thin, profile), 99) == [
        f"use mesh {names[row]}" for row in finer if 1.1 * sqrt(2) * row.thread_um < 90
    ]


def test_the_ruling_of_larger_dots() -> None:
    half = failed_with(check(CheckName.SMALLEST_DOT, 100, 113, 200, "fail"))
    assert remedies._lpi_of_larger_dots(half, profile_of()) == 12.5
    large = failed_with(check(CheckName.SMALLEST_DOT, 100, 113, 50, "fail"))
    assert remedies._lpi_of_larger_dots(large, profile_of()) == 25
    none = failed_with(check(CheckName.SMALLEST_DOT, 100, 113, None, "fail"))
    assert remedies._lpi_of_larger_dots(none, profile_of()) is None


@pytest.mark.parametrize(
    ("told", "more", "firsts"),
    [
        (FEW_PIXELS, "", ["print it no larger", "screen it at 20 lpi"]),
        (THIN, "", ["print it at least", "use mesh"]),
        (SMALL_DOT, "", ["screen it at 8 lpi", "use mesh"]),
        (SMALL_DOT, "tone: {hold: off}\n", ["set tone", "screen it at 8 lpi", "use mesh"]),
    ],
)
def test_which_changes_can_help(told: Check, more: str, firsts: list[str]) -> None:
    families = list(remedies.families(failed_with(told), profile_of(more)))
    found = [asked(family, 1) for family in families]
    assert len(found) == len(firsts)
    for asks, first in zip(found, firsts, strict=True):
        assert all(ask.startswith(first) for ask in asks)


def tried(
    monkeypatch: pytest.MonkeyPatch, passes: set[str], seconds_each: float = 0
) -> tuple[list[str], list[str]]:
    """What is offered where these changes pass, and all that was tried, three families long."""
    log: list[str] = []
    clock = [0.0]

    def family(name: str) -> Any:
        names = [f"{name}{n}" for n in range(9)]
        return [remedies.ProfileChange(one, one, ("lpi",), "20") for one in names]  # type: ignore[arg-type]

    def one(wished: Any, profile: Any) -> bool:
        log.append(profile)
        clock[0] += seconds_each
        return profile in passes

    monkeypatch.setattr(remedies, "families", lambda *_: [family(name) for name in "abc"])
    monkeypatch.setattr(remedies, "_passes", one)
    monkeypatch.setattr(remedies, "how_to_ask", lambda change, _: change.words)
    monkeypatch.setattr(remedies.time, "monotonic", lambda: clock[0])
    profile: Any = SimpleNamespace(limits=SimpleNamespace(seconds=100.0))
    wished: Any = SimpleNamespace(profile=profile)
    nothing: Any = None
    return remedies.offers_that_pass(wished, nothing), log


def test_three_changes_of_a_family_are_tried_and_two_are_offered(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert tried(monkeypatch, set()) == (
        [], ["a0", "a1", "a2", "b0", "b1", "b2", "c0", "c1", "c2"]
    )  # fmt: skip
    assert tried(monkeypatch, {"a2", "b0", "c0"}) == (["a2", "b0"], ["a0", "a1", "a2", "b0"])
    assert tried(monkeypatch, {"c1"}) == (
        ["c1"], ["a0", "a1", "a2", "b0", "b1", "b2", "c0", "c1"]
    )  # fmt: skip


def test_nothing_is_tried_after_three_tenths_of_the_time(monkeypatch: pytest.MonkeyPatch) -> None:
    assert tried(monkeypatch, {"c2"}, 10)[1] == ["a0", "a1", "a2", "b0"]
    assert tried(monkeypatch, {"c2"}, 31)[1] == ["a0"]


@pytest.mark.parametrize(
    ("limit", "fail", "missed", "loses"),
    [
        (113.0, 113.0, [], True),  # single strokes at or under what is lost
        (309.0, 113.0, [], False),  # uneven, but there
        (None, 113.0, [], False),
        (None, 113.0, ["1 of the art's shapes not on the film"], True),
    ],
)
def test_a_film_that_loses_strokes_is_no_remedy(
    limit: float | None, fail: float, missed: list[str], loses: bool
) -> None:
    pieces = None if limit is None else ThinPieces(limit)
    told = Check(CheckName.NARROWEST_STROKE, 90, 309, fail, Verdict.WARN, pieces=pieces)
    work: Any = SimpleNamespace(checks=[told], missed=lambda: missed)
    assert remedies._loses(work) is loses


def test_places_belong_to_the_check_of_their_feature() -> None:
    spots: Any = [SimpleNamespace(feature=feature) for feature in Feature]
    assert [spot.feature for spot in judge.spots_of(THIN, spots)] == [Feature.STROKE]
    assert judge.spots_of(FEW_PIXELS, spots) == []


@pytest.mark.parametrize(
    ("lengths", "says"),
    [
        ([600.0], "1 thin gap would not hold in the stencil, whatever lies beside: 0.6 mm "
         "(0.02 in) long, 85 µm wide, wanted more than 113 µm; here."),
        ([600.0, 1400.0], "2 thin gaps would not hold in the stencil, whatever lies beside: 2 mm "
         "(0.08 in) long in all, 85 µm wide at the narrowest, wanted more than 113 µm; here."),
    ],
)  # fmt: skip
def test_single_thin_pieces_in_a_sentence(lengths: list[float], says: str) -> None:
    pieces = ThinPieces(113.14)
    pieces.add([ThinPiece(1, 2, length, 84.7) for length in lengths])
    told = Check(CheckName.NARROWEST_GAP, 84.7, 309, 113.14, Verdict.WARN, pieces=pieces)
    sheet = profile_of().sheet
    assert judge.check_sentence(told, sheet, "; here") == says
    assert judge.check_sentence(told, sheet) == says.replace("; here", "")
