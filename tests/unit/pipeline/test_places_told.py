"""Where on the sheet things are told to be, from places that are counted on the art or a patch."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from filmhand.film.bits import BitSheet
from filmhand.mesh.bitmap.area_counts import AreaCounts
from filmhand.mesh.bitmap.spotting_out import SpottedOut
from filmhand.mesh.bitmap.worst_places import WorstPlace
from filmhand.mesh.checks import Check, CheckName, Verdict
from filmhand.mesh.limits import Feature, MeshLimits, SizeLimits
from filmhand.pipeline import finished
from filmhand.pipeline.render import render
from filmhand.pipeline.render.background import ClearedBackground
from filmhand.pipeline.render.strips import AreaOfSheet
from filmhand.pipeline.trial import trial_sheet
from filmhand.pipeline.verdict import inspection
from filmhand.pipeline.verdict.inspection import CountedFilm, SmallestHeld
from filmhand.profile.terms import Treat
from filmhand.sheet.layout import Box
from filmhand.units import Resolution

AREA = Box(100, 200, 60, 50)
WORST = [WorstPlace(111, 222, 80.0, Feature.STROKE), WorstPlace(333, 444, 90.0, Feature.GAP)]


def proof_of(monkeypatch, tmp_path, *, treated=Treat.LINE, worst=WORST, likeness=None):
    told = {}
    monkeypatch.setattr(
        finished, "write_proof", lambda bits, path, **rest: told.update(rest, path=path)
    )
    monkeypatch.setattr(finished, "conditions_of", lambda profile: ("conditions", profile.name))
    cleared = ClearedBackground(
        np.ones((2, 2), np.bool_), None, islands=[(1000, 2000), (1100, 2100)]
    )
    work = SimpleNamespace(
        request=SimpleNamespace(out=tmp_path),
        area=AREA,
        copies=SimpleNamespace(copy=Box(110, 220, 20, 30), shifts=((0, 0), (7, -9))),
        profile=SimpleNamespace(acetate_dpi=Resolution(300, 600), name="p", sheet="sheet"),
        cleared=cleared,
        treated=treated,
    )
    counted = CountedFilm(None, None, SpottedOut(places=[(1, 2), (30, 40)]), worst, likeness)
    assert finished.draw_proof(work, None, counted, "-x", "words") == told.pop("path")
    return told, cleared


def test_the_proof_is_told_places_of_the_sheet(monkeypatch, tmp_path):
    told, cleared = proof_of(monkeypatch, tmp_path)
    assert told == {
        "resolution": Resolution(300, 600),
        "mended": [(101, 202), (130, 240)],  # counted from the art's corner
        "circled": [(111, 222), (333, 444)],
        "conditions": ("conditions", "p"),
        "art": AREA,
        "cleared": [(1000, 2000), (1007, 1991), (1100, 2100), (1107, 2091)],
        "bared": [(Box(110, 220, 20, 30), cleared.floor), (Box(117, 211, 20, 30), cleared.floor)],
        "gone": (),
        "detail_at": (111, 222),
        "words": "words",
        "sheet": "sheet",
    }


def test_shapes_that_are_gone_are_told_where_the_film_was_compared(monkeypatch, tmp_path):
    gone = (Box(1, 2, 3, 4),)
    assert (
        proof_of(monkeypatch, tmp_path, likeness=SimpleNamespace(not_shown=gone))[0]["gone"] == gone
    )


def test_the_detail_shows_the_worst_place_where_there_is_one(monkeypatch, tmp_path):
    told = proof_of(monkeypatch, tmp_path, treated=Treat.TONE)[0]
    assert told["detail_at"] == (111, 222)
    assert proof_of(monkeypatch, tmp_path, worst=[])[0]["detail_at"] is None


def test_of_a_joined_film_each_part_tells_the_places_that_it_shows():
    counted = SimpleNamespace(
        spotted=SpottedOut(1, 2, 3, 4, 5, [(10, 20), (29, 20), (30, 20), (10, 19), (9, 20)])
    )
    judged = SimpleNamespace(counted=counted, work=SimpleNamespace(area=AREA))
    # The part begins 10 right and 20 down of the art's corner, and is 20 wide.
    there = finished._spotted_there(judged, Box(110, 220, 20, 30))
    assert there == SpottedOut(1, 2, 3, 4, 5, [(0, 0), (19, 0)])


def test_what_was_mended_on_patches_is_told_from_the_area_of_all(monkeypatch):
    def patch(place, places, dots):
        counted = SimpleNamespace(
            spotted=SpottedOut(specks=1, pixels=5, places=places, rows={1, 2}),
            dots=SimpleNamespace(areas=AreaCounts.of(np.array(dots)), cut=1, pixels=sum(dots)),
            shadow_dots=SimpleNamespace(areas=AreaCounts.of(np.array([9])), cut=2, pixels=9),
        )
        return SimpleNamespace(place=place, counted=counted)

    made = [
        patch(Box(120, 250, 5, 5), [(1, 2)], [3, 4]),
        SimpleNamespace(place=Box(0, 0, 1, 1), counted=None),
        patch(Box(140, 230, 5, 5), [(3, 4), (0, 0)], [5]),
    ]
    together = trial_sheet._together(made, AREA)
    assert together.spotted == SpottedOut(
        specks=2, pixels=10, places=[(21, 52), (43, 34), (40, 30)]
    )
    assert together.dots.areas.area.tolist() == [3, 4, 5]
    assert (together.dots.cut, together.dots.pixels) == (2, 12)
    assert together.dots.areas.count.tolist() == [1, 1, 1]
    areas = together.shadow_dots.areas
    assert (areas.area.tolist(), areas.count.tolist()) == ([9], [2])
    assert (together.shadow_dots.cut, together.shadow_dots.pixels) == (4, 18)


LIMITS = MeshLimits(
    SizeLimits(100, 200), SizeLimits(150, 250), SizeLimits(110, 210), SizeLimits(160, 310)
)


def worst_of(monkeypatch, checks, limits=LIMITS, left=100):
    asked = []

    def smallest(small, resolution, *, ink):
        asked.append((small, ink))
        return [WorstPlace(1, 2, 3.0, Feature.DOT)]

    def narrowest(shape, disc_um):
        asked.append((shape, disc_um))
        return [WorstPlace(4, 5, 6.0, Feature.GAP)]

    monkeypatch.setattr(inspection, "smallest_components", smallest)
    monkeypatch.setattr(inspection, "narrowest_places", narrowest)
    monkeypatch.setattr(
        inspection, "_shape", lambda art, dpi, *, ink, near_um, shown: (ink, near_um, shown)
    )
    counted = SimpleNamespace(small="dots"), SimpleNamespace(small="shadow dots")
    art = SimpleNamespace(area=Box(left, 200, 60, 50))
    found = inspection.worst_places(art, counted, checks, Resolution(254, 254), limits, shown="all")
    return found, asked


def check(name, verdict):
    return Check(name, 1.0, 250.0, 150.0, verdict)


def test_places_are_sought_for_what_does_not_pass(monkeypatch):
    names = (CheckName.SMALLEST_DOT, CheckName.SMALLEST_SHADOW_DOT, CheckName.NARROWEST_STROKE,
             CheckName.NARROWEST_GAP)  # fmt: skip
    passing = [check(name, Verdict.PASS) for name in names]
    assert worst_of(monkeypatch, passing) == ([], [])
    failing = [check(name, Verdict.FAIL) for name in names]
    assert worst_of(monkeypatch, failing, limits=None) == ([], [])
    found, asked = worst_of(monkeypatch, failing)
    # Pixels of 100 um: the narrowest disc over 150 um has two, over 250 um three; 310 um is the
    # most that any stroke or gap is warned of.
    assert asked == [
        ("dots", True), ("shadow dots", False),
        ((True, 310, "all"), 200), ((False, 310, "all"), 200),
    ]  # fmt: skip
    assert found == [
        WorstPlace(101, 202, 3.0, Feature.DOT), WorstPlace(101, 202, 3.0, Feature.DOT),
        WorstPlace(104, 205, 6.0, Feature.GAP), WorstPlace(104, 205, 6.0, Feature.GAP),
    ]  # fmt: skip
    _, asked = worst_of(monkeypatch, [check(CheckName.NARROWEST_GAP, Verdict.WARN)])
    assert asked == [((False, 310, "all"), pytest.approx(300))]


def test_what_no_place_has_is_passed_over(monkeypatch):
    checks = [check(CheckName.MOIRE, Verdict.FAIL), check(CheckName.SMALLEST_DOT, Verdict.WARN)]
    assert worst_of(monkeypatch, checks)[1] == [("dots", True)]


@pytest.mark.parametrize(("left", "width"), [(0, 16), (3, 13), (3, 14), (8, 8), (5, 20)])
@pytest.mark.parametrize("masked", [False, True])
def test_strokes_are_sought_in_the_area_and_where_they_are_shown(left, width, masked, tmp_path):
    chance = np.random.default_rng(left + width)
    sheet, shown = chance.random((9, 40)) < 0.5, chance.random((4, width)) < 0.5
    with BitSheet.create(tmp_path / "bits", width=40, height=9) as bits:
        bits.write(0, np.packbits(sheet, axis=1))
        art = AreaOfSheet(bits, Box(left, 3, width, 4))
        shape = inspection._shape(
            art, Resolution(254, 254), ink=True, near_um=0,
            shown=(lambda first, count: shown[first : first + count]) if masked else None,
        )  # fmt: skip
        rows = np.unpackbits(shape.read(1, 4), axis=1).astype(bool)
    assert (shape.width, shape.height, shape.skip) == (left % 8 + width, 4, left % 8)
    inside = rows[:, left % 8 : left % 8 + width]
    wanted = sheet[4:7, left : left + width]
    assert np.array_equal(inside, wanted & shown[1:] if masked else wanted)


def test_the_sizes_to_mend_to_by_hand():
    """Pixels of 100 x 50 um.

    Circles of 100, 200, 150 and 250 um have 7854, 31416, 17671 and 49087 um2: 1.57, 6.28, 3.53
    and 9.82 pixels.
    """
    resolution = Resolution(254, 508)
    to_pass = SmallestHeld.to_pass(LIMITS, resolution)
    assert (to_pass.dot.pixels, to_pass.shadow_dot.pixels) == (3, 5)  # a pixel more than is lost
    evenly = SmallestHeld.to_print_evenly(LIMITS, resolution)
    assert (evenly.dot.pixels, evenly.shadow_dot.pixels) == (7, 10)
    # Wider than 100 um and 150 um: the next whole pixel.
    assert to_pass.dot.bridge == evenly.dot.bridge == (2, 3)
    assert to_pass.shadow_dot.bridge == evenly.shadow_dot.bridge == (2, 4)
    less = evenly.at_most(5, 99)
    assert (less.dot.pixels, less.shadow_dot.pixels) == (5, 10)
    assert (less.dot.bridge, less.shadow_dot.bridge) == ((2, 3), (2, 4))


@pytest.mark.parametrize(("screen", "budget"), [("screen", 123), (None, 12)])
def test_mending_has_a_budget_and_ends(screen, budget, monkeypatch):
    """A hundredth of 12345 pixels of a halftone, a thousandth of line art; twelve rounds."""
    rounds = []

    def spot_out(read, write, size, **rest):
        rounds.append(rest)
        return SpottedOut(specks=1, pixels=4, rows={7})

    monkeypatch.setattr(inspection, "spot_out", spot_out)
    monkeypatch.setattr(inspection.SmallComponents, "of", staticmethod(lambda small: small))
    dots = SimpleNamespace(small=SimpleNamespace(row=np.arange(2)), pixels=12345)
    shadow_dots = SimpleNamespace(small=SimpleNamespace(row=np.arange(0)), pixels=1)
    taken = []

    def take(read, strips, *, threads):
        taken.append((strips, threads))
        return dots, shadow_dots

    census = SimpleNamespace(holding=lambda rows: rows, strips="all", take=take)
    work = SimpleNamespace(screen=screen, request=SimpleNamespace(threads=3))
    art = SimpleNamespace(read=1, write=2, read_packed=3, area=AREA)
    held = SmallestHeld.to_pass(LIMITS, Resolution(254, 508))
    counted = inspection.spot_out_art(work, art, census, smallest=held, barred=None)
    assert [one["allowance"] for one in rounds] == [budget - 4 * n for n in range(12)]
    assert [one["only_turn"] for one in rounds] == [False] * 3 + [True] * 9
    assert {one["keep_tone"] for one in rounds} == {screen is not None}
    assert (rounds[0]["dot"], rounds[0]["shadow_dot"]) == (held.dot, held.shadow_dot)
    assert (rounds[0]["dots"], rounds[0]["shadow_dots"]) == (dots.small, shadow_dots.small)
    assert taken == [("all", 3), *[({7}, 3)] * 12]
    assert counted.spotted == SpottedOut(specks=12, pixels=48, rows={7})
    # Nothing to mend, or nothing wanted: the film is as it was.
    assert inspection.spot_out_art(work, art, census, smallest=None, barred=None).spotted.count == 0
    dots.small = shadow_dots.small
    assert not inspection.spot_out_art(work, art, census, smallest=held, barred=None).spotted.count


def test_art_is_given_up_before_its_rows_are_written(monkeypatch):
    art = SimpleNamespace(coded=np.zeros((900, 900), np.uint16))
    told = {}

    def fill(bits, area, ink, *, threads):
        told.update(bits=bits, area=area, ink=ink, threads=threads)
        told["held"] = art.coded.size

    monkeypatch.setattr(
        render, "rows_of", lambda work, art, barred: render.Rendered("ink", "lines")
    )
    monkeypatch.setattr(render, "fill_rows_of_sheet", fill)
    work = SimpleNamespace(area=AREA, request=SimpleNamespace(threads=2))
    assert render.render_art(work, art, "bits", barred=None) == "lines"
    assert told == {
        "bits": "bits", "area": AREA, "ink": "ink", "threads": 2, "held": 0,
    }  # fmt: skip
