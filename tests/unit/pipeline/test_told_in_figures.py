"""The figures of records, reports and of what is measured, from sizes that are known."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from filmhand.errors import Refused
from filmhand.film.bits import BitSheet
from filmhand.mesh.bitmap.area_counts import AreaCounts
from filmhand.mesh.bitmap.spotting_out import SpottedOut
from filmhand.mesh.bitmap.worst_places import WorstPlace
from filmhand.mesh.checks import Check, CheckName, Verdict
from filmhand.mesh.limits import Feature, MeshLimits, SizeLimits
from filmhand.mesh.table import read_mesh, woven
from filmhand.pipeline import measure, profile_report
from filmhand.pipeline.record import film_record, mesh_record, part_record
from filmhand.pipeline.render.background import ClearedBackground
from filmhand.pipeline.trial import patches, trial_sheet
from filmhand.pipeline.verdict.inspection import CountedFilm
from filmhand.profile.read.load import read_profile
from filmhand.profile.terms import Treat
from filmhand.sheet.layout import Box, FilmPart, Layout
from filmhand.sheet.placement import grid_of
from filmhand.units import Resolution

TEXT = "sheet: 100 x 150 mm\ndpi: 254 x 508\nlpi: 25\ndot: round\nthreshold: 50\nmargin: 5 mm\n"
PROFILE = read_profile(TEXT + "mesh: 43-80\n", name="p", file="p.yaml")
DPI = PROFILE.dpi


def layout_of(**more):
    sheet = Box(0, 0, 1000, 3000)
    return Layout(
        sheet, Box(50, 100, 900, 2800), sheet, Box(60, 120, 333, 777), 90,
        (33.3333, 38.8888), 123.456, **more,
    )  # fmt: skip


def record_of(
    layout, *, ticket=None, screen=None, moire=None, reading=None, profile=PROFILE, sub=""
):
    ticket = ticket or SimpleNamespace(raw={}, wishes=(), for_whom=None, copies=1)
    work = SimpleNamespace(
        profile=profile, layout=layout, ticket=ticket, screen=screen, moire=moire,
        reading=reading,
        source={"sha256": "abc"}, treated=Treat.LINE, kept=SimpleNamespace(record=lambda: "kept"),
        repaired=[SimpleNamespace(record=lambda: "repair")], cleared=ClearedBackground(),
        checks=[Check(CheckName.SMALLEST_DOT, 123.456, 9.8765, None, Verdict.PASS)], notes=["one"],
        warned=[], reminders=["two"], request=SimpleNamespace(sub=sub),
    )  # fmt: skip
    counted = CountedFilm(
        None, None, SpottedOut(1, 2, 3, 4, 5), [WorstPlace(254, 508, 12.34, Feature.GAP)]
    )
    return film_record(work, counted, {"tiff": "d1"})


def test_a_record_tells_sizes_in_the_right_units():
    record = record_of(layout_of())
    assert record["film"] == {
        "files": {}, "sha256": {"tiff": "d1"}, "width_px": 1000, "height_px": 3000,
        "dpi": [254, 508], "sheet_mm": [100, 150], "scale_pct": [100.0, 100.0], "stack": 1,
    }  # fmt: skip
    assert record["art"] == {
        "width_mm": 33.33, "height_mm": 38.89, "turned": 90, "ppi": 123.5, "kind": None,
        "cut": "kept", "copies": None, "part": None,
    }  # fmt: skip
    assert record["spotted"] == {
        "specks": 1, "pinholes": 2, "enlarged": 3, "joined": 4, "pixels": 5,
    }  # fmt: skip
    assert record["worst"] == [{"what": "gap", "x_mm": 25.4, "y_mm": 25.4, "width_um": 12.3}]
    # To a tenth, and to a hundredth below ten.
    assert record["checks"] == [
        {"name": "smallest dot", "measured": 123.5, "warn_limit": 9.88, "fail_limit": None,
         "unit": "um", "verdict": "pass"}
    ]  # fmt: skip
    assert (record["job"], record["at"], record["earlier"], record["ticket"]) == (None,) * 4
    assert (record["screen"], record["moire"], record["likeness"]) == (None,) * 3
    assert (record["warnings"], record["reminders"]) == ([], ["two"])
    assert (record["treated"], record["notes"], record["repaired"]) == ("line", ["one"], ["repair"])
    assert record["profile"] == {"name": "p", "sha256": PROFILE.sha256}


def test_a_record_tells_copies_wishes_and_what_was_read():
    ticket = SimpleNamespace(
        raw={"for": "Ana"}, wishes=(SimpleNamespace(words="width 7 in"),), for_whom="Ana", copies=3
    )
    moire = SimpleNamespace(record=lambda: "moire")
    record = record_of(
        layout_of(grid=grid_of(3, 2, cell=Box(0, 0, 10, 10), gap=(1, 1))),
        ticket=ticket, screen=SimpleNamespace(record=lambda: "screen"), moire=moire,
        reading=SimpleNamespace(kind="photo"),
        profile=read_profile(TEXT + "mesh: 110\n", name="q", file="q"),
    )  # fmt: skip
    assert record["art"]["copies"] == [3, 2] and record["art"]["kind"] == "photo"
    assert (record["ticket"], record["wishes"]) == ({"for": "Ana"}, ["width 7 in"])
    assert (record["for"], record["copies"]) == ("Ana", 3)
    by_folder = [record_of(layout_of(), sub=sub)["for"] for sub in ("", "class 4", "class 4/late")]
    assert by_folder == [None, "class 4", "class 4"]
    assert record_of(layout_of(), ticket=ticket, sub="class 4")["for"] == "Ana"
    assert (record["screen"], record["moire"]) == ("screen", "moire")
    # A thread that was assumed is told beside the other notes.
    assert record["notes"][0] == "one" and "a thread of 80 µm is assumed" in record["notes"][1]
    no_mesh = read_profile(TEXT + "mesh: none\n", name="q", file="q")
    assert record_of(layout_of(), profile=no_mesh)["mesh"] is None


def test_a_part_is_told_in_millimeters_of_the_art_on_the_joined_film():
    part = FilmPart(2, 3, 4, 5, Box(1234, 2345, 567, 678), (101, 203))
    assert part_record(layout_of(), part, DPI) == {
        "row": 2, "column": 3, "rows": 4, "columns": 5, "overlap_mm": 10.1,
        "left_mm": 118.4, "top_mm": 112.25, "width_mm": 56.7, "height_mm": 33.9,
    }  # fmt: skip


def test_a_mesh_is_told_to_a_tenth():
    assert mesh_record(woven(43, 80, stretch_percent=1.5)) == {
        "label": "110 (43-80)", "threads_per_cm": 43, "thread_um": 80, "opening_um": 152.6,
        "open_area_pct": 43.0, "thickness_um": 120, "ink_volume_cm3_m2": 51.6,
        "stretch_pct": 1.5, "assumed": False,
    }  # fmt: skip


LIMITS = MeshLimits(SizeLimits(1, 300), SizeLimits(1, 400), SizeLimits(1, 1), SizeLimits(1, 1))


def test_the_tones_that_print_evenly_follow_from_the_sizes():
    # pi / 4 of the square of 300 um by a cell of 1016 um, and of 400 um.
    assert profile_report._tones(LIMITS, 25) == (6.85, 87.83)
    # Where the lightest would be darker than the darkest, there is none.
    assert profile_report._tones(LIMITS, 55) == (33.14, 41.08)
    assert profile_report._tones(LIMITS, 58) == (None, None)
    assert profile_report._tones(LIMITS, 200) == (None, None)


def test_common_rulings_go_up_to_what_the_printer_draws():
    listed = profile_report._by_lpi(PROFILE, LIMITS, 109.22)
    # A quarter of 254 dpi is 63.5; the profile's own is among them once.
    assert [one["lpi"] for one in listed] == [20, 25, 30, 35, 40, 45, 50, 55]
    assert listed[1] == {"lpi": 25, "tone_min_pct": 6.85, "tone_max_pct": 87.83, "ratio": 4.37}


def test_nothing_is_the_finest_ruling_where_any_dot_passes():
    assert profile_report._finest(LIMITS) == 22.7  # 25400 / 400 um x sqrt(0.4 / pi)
    any_dot = MeshLimits(*(SizeLimits(0, 0),) * 4)
    assert profile_report._finest(any_dot) is None


@pytest.mark.parametrize(
    ("areas", "limit", "size"),
    [
        ([5, 9, 3], 6, 6),
        ([5, 9, 3], 5, 4),
        ([5, 9, 3], 3, 0),
        ([], 9, 0),
        ([1] * 199 + [2, 7], 9, 3),  # two hundred are enough
        ([1] * 200 + [2, 7], 9, 2),
    ],
)
def test_of_the_small_ones_two_hundred_are_looked_for_once_more(areas, limit, size):
    assert measure._size_of_smallest(AreaCounts.of(np.array(areas, np.int64)), limit) == size


def test_sizes_of_components_are_told_as_circles():
    # Pixels of 100 x 50 um: 3 of them are a circle of 138.2 um, 10 one of 252.3 um.
    components = SimpleNamespace(areas=AreaCounts.of(np.array([10, 3, 10, 40])))
    assert measure._statistics(components, DPI) == {
        "count": 4, "smallest_um": 138.2, "median_um": 252.3,
    }  # fmt: skip
    none = SimpleNamespace(areas=AreaCounts.joined([]))
    assert measure._statistics(none, DPI) == {"count": 0, "smallest_um": None, "median_um": None}


@pytest.mark.parametrize(
    ("size", "dpi", "factor", "window", "corners"),
    [
        # Four inches at most, at 400 dpi at most: quarters of what is left, in nine places.
        ((2400, 1600), (300, 300), 1, (1200, 1200), {300, 600, 900}),
        ((9601, 4801), (1200, 1200), 3, (4800, 4800), {1200, 2400, 3600}),
        ((400, 400), (799, 799), 1, (400, 400), {0}),
        ((401, 401), (800, 800), 2, (400, 400), {0}),
        ((4000, 4000), (600, 1200), 1, (2400, 4000), {400, 800, 1200}),
    ],
)
def test_a_screen_is_sought_in_nine_windows(
    size, dpi, factor, window, corners, tmp_path, monkeypatch
):
    asked = []

    def averaged(bits, box, by):
        asked.append(box)
        assert by == factor
        return "window"

    def clearest(windows, resolution):
        assert set(windows) == {"window"}
        assert resolution == (dpi[0] / factor, dpi[1] / factor)
        return "screen"

    monkeypatch.setattr(measure, "_averaged", averaged)
    monkeypatch.setattr(measure, "clearest_screen", clearest)
    bits = SimpleNamespace(width=size[0], height=size[1])
    assert measure.screen_of(bits, Resolution(*dpi)) == "screen"
    assert {(box.width, box.height) for box in asked} == {window}
    assert {box.left for box in asked} == corners
    assert len(asked) == len(corners) * len({box.top for box in asked})


def test_a_film_too_small_for_a_screen_has_none():
    small = SimpleNamespace(width=15, height=900)
    assert measure.screen_of(small, Resolution(300, 300)) is None


@pytest.mark.parametrize("factor", [1, 3])
def test_windows_are_averaged_over_squares(factor, tmp_path, monkeypatch):
    monkeypatch.setattr(measure, "_ROWS_AT_ONCE", 7)
    film = np.random.default_rng(3).random((60, 50)) < 0.5
    with BitSheet.create(tmp_path / "bits", width=50, height=60) as bits:
        bits.write(0, np.packbits(film, axis=1))
        found = measure._averaged(bits, Box(5, 9, 36, 42), factor)
    wanted = film[9:51, 5:41].reshape(42 // factor, factor, 36 // factor, factor).mean(axis=(1, 3))
    assert found == pytest.approx(wanted)


@pytest.mark.parametrize(
    ("widths", "told"),
    # At or under the fail limits of 1 um; a width of "at least" tells nothing.
    [((0.5, 0.5), 2), ((1.0, 1.1), 1), ((1.1, 1.0), 1), ((1.1, 1.1), 0)],
)
def test_long_thin_pieces_are_told_beside_the_area_of_dots(widths, told):
    strokes, gaps = (SimpleNamespace(width_um=width, at_least=False) for width in widths)
    assert len(measure._narrow_pieces(strokes, gaps, LIMITS)) == told
    for narrow in (strokes, gaps):
        narrow.at_least = True
    assert measure._narrow_pieces(strokes, gaps, LIMITS) == []


def test_the_room_for_patches_counts_those_of_the_very_least_side(monkeypatch):
    # Of 25.4 lpi twenty cells are 20 mm, so that the least patch has 25 mm.
    profile = read_profile(
        TEXT.replace("lpi: 25", "lpi: 25.4") + "mesh: none\n", name="p", file="p"
    )
    trial = tuple(patches.Patch(f"A{n}", (("contrast", 1.0),)) for n in range(9))
    sides = {1: 90.0, 2: 40.0, 3: 25.0, 4: 24.9}
    monkeypatch.setattr(
        patches, "_side_mm", lambda profile, zone, columns, count: sides.get(count, 5.0)
    )
    refused = patches._no_room(profile, trial, Box(0, 0, 9, 9))
    assert isinstance(refused, Refused)
    assert "asks for 9 patches, and this sheet has room for 3 of 25 mm" in refused.say
    assert (refused.found.value, refused.needed.value) == (9, 3)
    coarse = tuple(patches.Patch(f"A{n}", (("lpi", 12.7 + n),)) for n in range(9))
    # Twenty cells of the coarsest ruling, two millimeters each.
    assert "room for 2 of 40 mm" in patches._no_room(profile, coarse, Box(0, 0, 9, 9)).say


def test_a_trial_is_told_in_millimeters_of_the_film_and_percent_of_the_art():
    made = [
        trial_sheet._Made(
            SimpleNamespace(area=Box(123, 457, 333, 777), checks=[], screen=None,
                            profile=SimpleNamespace(mesh=None)),
            counted, [],
        )
        for counted in (None, "some")
    ]  # fmt: skip
    plan = SimpleNamespace(
        patches=[patches.Patch("A1", (("lpi", 30.0),)), patches.Patch("A2", (("lpi", 35.0),))]
    )
    art = Box(100, 200, 1000, 2000)
    for turned, detail in ((0, (20.0, 35.0)), (90, (65.0, 20.0))):
        work = SimpleNamespace(profile=PROFILE, layout=SimpleNamespace(art=art, turned=turned))
        report = trial_sheet._report(plan, made, Box(250, 800, 100, 200), work)
        assert (report.count, report.detail) == (2, detail)
        assert report.shown_mm == pytest.approx((10, 10))
    assert report.record[0] == {
        "patch": "A1", "lpi": 30, "verdict": "blank", "x_mm": 12.3, "y_mm": 22.85,
        "width_mm": 33.3, "height_mm": 38.85, "screen": None, "checks": [],
    }  # fmt: skip
    assert report.record[1]["verdict"] == "no mesh"


@pytest.mark.parametrize(
    ("names", "mesh", "word"),
    [
        ([], "43-80", "holds"),
        ([(CheckName.MOIRE, Verdict.WARN)], "43-80", "warns"),
        ([(CheckName.MOIRE, Verdict.WARN)], None, "warns, no mesh"),
        ([(CheckName.MOIRE, Verdict.FAIL)], "43-80", "fails"),
        ([(CheckName.SMALLEST_DOT, Verdict.FAIL)], "43-80", "too fine"),
        ([(CheckName.NARROWEST_GAP, Verdict.FAIL)], "43-80", "too fine"),
        ([(CheckName.MOIRE, Verdict.WARN), (CheckName.SMALLEST_DOT, Verdict.FAIL)], "43-80",
         "too fine"),
    ],
)  # fmt: skip
def test_a_patch_in_a_word(names, mesh, word):
    work = SimpleNamespace(
        checks=[Check(name, 1, 1, 1, verdict) for name, verdict in names],
        profile=SimpleNamespace(mesh=mesh and read_mesh(mesh)),
    )
    assert trial_sheet._Made(work, "counted", []).verdict == word
