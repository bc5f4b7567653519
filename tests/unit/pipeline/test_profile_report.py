"""What a profile's own limits do, and what ``check`` tells of a profile."""

from __future__ import annotations

import textwrap

import pytest

from filmhand.cli.check import print_profile
from filmhand.guide import read_page
from filmhand.mesh.assumed import assumptions
from filmhand.mesh.checks import Verdict
from filmhand.mesh.limits import MeshLimits, pixels_of_circle
from filmhand.pipeline.profile_report import describe_profile
from filmhand.pipeline.render.screen_moire import moire_check, moire_offers, tile_moire
from filmhand.pipeline.render.screen_plan import (
    limits_of,
    plan_screen,
    screen_checks,
    smallest_pixels,
)
from filmhand.profile.read.load import read_profile
from filmhand.profile.terms import FailWarn, MoireLimits
from filmhand.units import length_text, read_sheet

SAID = {
    "sheet": "letter",
    "dpi": "600",
    "lpi": "25",
    "dot": "round",
    "threshold": "50",
    "mesh": "43-80",
    "margin": "6 mm",
}


def profile_of(**keys):
    text = "".join(f"{key}: {value}\n" for key, value in (SAID | keys).items())
    return read_profile(text, name="test", file="test.yaml")


def moire_of(**keys):
    """The profile's bands, as its tile is made."""
    profile = profile_of(**keys)
    plan = plan_screen(profile)
    return tile_moire(profile, plan, plan.tile(), 250.0)


def offers_of(**keys):
    profile = profile_of(**keys)
    plan = plan_screen(profile)
    tile = plan.tile()
    now = tile_moire(profile, plan, tile, 250.0)
    return moire_offers(profile, plan, tile, now, 250.0)


def plain_checks(**keys):
    """Those that need no tile."""
    profile = profile_of(**keys)
    return screen_checks(profile, plan_screen(profile))


def verdicts(**keys):
    checks = [*plain_checks(**keys), moire_check(profile_of(**keys), moire_of(**keys))]
    return {check.name: check for check in checks}


def test_it_is_said_where_films_are_made(capsys):
    told = describe_profile(profile_of(workers="dask://127.0.0.1:8786"))
    assert told["workers"] == "dask://127.0.0.1:8786"
    print_profile(told)
    assert "the cluster at dask://127.0.0.1:8786" in capsys.readouterr().out
    assert describe_profile(profile_of())["workers"] == "own"
    near = [word for word in told["warnings"] if "encryption" in word]
    far = describe_profile(profile_of(workers="{at: dask://shop:8786, unencrypted: true}"))
    assert not near
    assert any("dask://shop:8786 without encryption" in word for word in far["warnings"])
    tls = describe_profile(profile_of(workers="dask+tls://shop:8786"))
    assert not [word for word in tls["warnings"] if "encryption" in word]


def test_limits_follow_from_the_mesh_unless_the_profile_says_otherwise():
    plain = profile_of()
    assert limits_of(plain) == MeshLimits.of(plain.mesh)
    own = profile_of(verdict="{dot: {fail: 10 um, warn: 20 um}, gap: {fail: 0.03 mm, warn: 40 um}}")
    assert limits_of(own) == MeshLimits.of(own.mesh, dot=(10, 20), gap=(30, 40))
    assert limits_of(profile_of(mesh="none", verdict="{dot: {fail: 10 um, warn: 20 um}}")) is None


def test_the_screen_makes_no_dot_under_the_profiles_own_limit():
    dot, shadow_dot = smallest_pixels(profile_of())
    assert dot == shadow_dot == pixels_of_circle(10000 / 43 + 80, profile_of().dpi)
    own = profile_of(verdict="{dot: {fail: 100 um, warn: 200 um}}")
    assert smallest_pixels(own) == (pixels_of_circle(200, own.dpi), shadow_dot)


@pytest.mark.parametrize(
    ("name", "keys", "own"),
    [
        ("mesh to lpi ratio", {}, "{ratio: 5}"),
        ("gray levels", {}, "{levels: 600}"),
        ("moire", {"angle": "20"}, "{moire: {warn: 0.001}}"),
        ("moire", {"angle": "20"}, "{moire: {distance: 40 cm}}"),
    ],
)
def test_the_profiles_own_limits_decide(name, keys, own):
    assert verdicts(**keys)[name].verdict is Verdict.PASS
    assert verdicts(verdict=own, **keys)[name].verdict is Verdict.WARN


def test_moire_fails_only_where_the_profile_refuses_it_and_at_its_own_limits():
    refuse, own = {"limits": "{moire: refuse}"}, {"verdict": "{moire: {warn: 0.01, fail: 0.03}}"}
    at_45 = {"angle": "45"}
    assert verdicts(**at_45)["moire"].verdict is Verdict.WARN
    assert verdicts(**at_45, **own)["moire"].verdict is Verdict.WARN
    assert verdicts(**at_45, **refuse)["moire"].verdict is Verdict.WARN
    assert verdicts(**at_45, **refuse, **own)["moire"].verdict is Verdict.FAIL


def test_the_angle_of_the_mesh_turns_the_bands():
    turned = moire_of(press="{mesh_angle: 22.5}", angle="45")
    straight = moire_of(angle="22.5")
    # The lattices as made differ a little from what was asked, each in its own way.
    assert turned.period_mm == pytest.approx(straight.period_mm, rel=0.02)
    assert turned.visibility == pytest.approx(straight.visibility, rel=0.15)
    assert turned.period_mm < 0.5 * moire_of(angle="45").period_mm


def test_the_stretch_of_a_written_out_mesh_is_used():
    mesh = "{{threads_per_cm: 100, thread: 40 um, stretch: {}}}"
    keys = {"lpi": "60.96", "angle": "0", "dpi": "1200"}
    locked, free = (moire_of(mesh=mesh.format(stretch), **keys).bands[0] for stretch in (4, 1))
    # No longer than the art, though the lock itself never ends.
    assert locked.period_mm == pytest.approx(250)
    assert free.period_mm < 5


@pytest.mark.parametrize(
    "screen",
    [
        {"mesh": "90-48", "lpi": "55", "angle": "45"},
        {"mesh": "43-80", "lpi": "25", "angle": "45"},
        {"mesh": "62-64", "lpi": "35", "angle": "45", "dot": "ellipse"},
    ],
    ids=str,
)
def test_no_offer_is_worse_than_what_it_replaces(screen):
    now = moire_of(**screen)
    offers = offers_of(**screen)
    keys = [offer.key for offer in offers]
    assert "angle" in keys
    assert keys == sorted(keys, key=["angle", "lpi", "mesh_angle"].index)
    for key in set(keys):
        seen = [offer.moire.visibility for offer in offers if offer.key == key]
        assert seen == sorted(seen) and len(seen) <= 3
    for offer in offers:
        change = (
            {"press": f"{{mesh_angle: {offer.value}}}"}
            if offer.key == "mesh_angle"
            else {offer.key: offer.value}
        )
        made = moire_of(**(screen | change))
        assert made.visibility == pytest.approx(offer.moire.visibility)
        assert made.visibility < now.visibility
        assert offer.passes == (made.visibility <= 0.02)
        changed = float(offer.value) / float(screen["lpi"]) - 1 if offer.key == "lpi" else 0
        assert offer.finer == pytest.approx(changed)
        was, now_is = (
            {check.name for check in plain_checks(**keys) if check.verdict is not Verdict.PASS}
            for keys in (screen, screen | change)
        )
        assert now_is <= was
    if now.visibility <= 0.02:
        assert "mesh_angle" not in keys


def test_where_bands_are_hardly_seen_nothing_is_offered():
    quiet = {"mesh": "90-48", "lpi": "45", "angle": "22.5"}
    assert 0 < moire_of(**quiet).visibility < 0.01
    assert offers_of(**quiet) == []


@pytest.mark.parametrize("keys", [{"dot": "grain"}, {"mesh": "none"}])
def test_where_there_is_no_moire_nothing_is_named(keys):
    assert moire_of(**keys) is None
    assert offers_of(**keys) == []
    told = describe_profile(profile_of(**keys))
    assert told["moire"] == {
        "period_mm": None,
        "worst_period_mm": None,
        "strength_pct": None,
        "visibility": None,
        "better_angles": [],
    }
    assert told["bands"] == told["less_moire"] == []


def test_a_turn_of_180_degrees_is_the_same_lines():
    one, other = (moire_of(dot="line", angle=angle, lpi="35") for angle in ("7", "97"))
    assert one.period_mm == pytest.approx(other.period_mm, rel=0.02)


def test_the_report_of_a_profile():
    told = describe_profile(profile_of(mesh="110"))
    assert told["mesh"] == {
        "label": "110 (43-80)",
        "threads_per_cm": 43,
        "thread_um": 80,
        "opening_um": 152.6,
        "open_area_pct": 43.0,
        "thickness_um": 120,
        "ink_volume_cm3_m2": 51.6,
        "stretch_pct": None,
        "assumed": True,
    }
    holds, moire = told["holds"], told["moire"]
    rulings = [row["lpi"] for row in holds["by_lpi"]]
    assert rulings == sorted(rulings)
    assert {20, 25, 45, 85} <= set(rulings)
    row = next(row for row in holds["by_lpi"] if row["lpi"] == 25)
    assert row["ratio"] == pytest.approx(109.22 / 25, abs=0.005)
    assert row["tone_min_pct"] == pytest.approx(holds["tone_min_pct"], rel=0.003)
    assert list(moire) == [
        "period_mm",
        "worst_period_mm",
        "strength_pct",
        "visibility",
        "better_angles",
    ]
    assert moire["period_mm"] == pytest.approx(8.05, abs=0.1)
    first = told["bands"][0]
    assert (first["period_mm"], first["visibility"]) == (
        moire["worst_period_mm"],
        moire["visibility"],
    )
    # No band is longer than the sheet inside its margin.
    assert moire["worst_period_mm"] <= 279.4 - 12
    angles = [one["value"] for one in told["less_moire"] if one["change"] == "angle"]
    assert angles == moire["better_angles"] != []
    for one in told["less_moire"]:
        assert one.keys() == {"change", "value", "sharpness_pct", "passes", *moire} - {
            "better_angles"
        }
    assert any("80 µm is assumed" in warning for warning in told["warnings"])


def test_rulings_that_the_printer_cannot_draw_are_left_out():
    told = describe_profile(profile_of(dpi="150", lpi="22"))
    assert [row["lpi"] for row in told["holds"]["by_lpi"]] == [20, 22, 25, 30, 35]


def test_higher_orders_of_the_mesh_count_as_they_are_seen():
    # 2.5 threads a line at 0 degrees: (2,0) of the mesh is (5,0) of the dots.
    bands = moire_of(mesh="40-60", lpi="40.64", angle="0").bands[0]
    assert bands.mesh_order in ((2, 0), (0, 2))


def test_limits_that_judge_nothing_are_told():
    own = "{dot: {fail: 10 um, warn: 20 um}, stroke: {fail: 10 um, warn: 20 um}, levels: 10}"
    warnings = describe_profile(profile_of(mesh="none", verdict=own))["warnings"]
    assert any("verdict.dot and verdict.stroke judge nothing" in warning for warning in warnings)
    assert len(describe_profile(profile_of(mesh="none"))["warnings"]) == 1


def test_a_profile_without_limits_has_no_finest_ruling(capsys):
    own = "{dot: {fail: 0 um, warn: 0 um}, shadow_dot: {fail: 0 um, warn: 0 um}}"
    told = describe_profile(profile_of(verdict=own))
    assert told["holds"]["best_lpi"] is None
    assert (told["holds"]["tone_min_pct"], told["holds"]["tone_max_pct"]) == (0, 100)
    print_profile(told)
    assert "finest advisable" not in capsys.readouterr().out


def test_what_is_printed_of_a_profile(capsys):
    told = describe_profile(profile_of(mesh="110", dpi="1200"))
    print_profile(told)
    text = " ".join(capsys.readouterr().out.split())
    assert "110 (43-80), thread assumed, opening 152.6 µm, open area 43 %, thickness 120 µm" in text
    assert "ink volume 51.6 cm3/m2" in text
    assert "finest advisable ruling 29 lpi" in text
    assert "25 lpi 4.37 : 1 tones 7.5 to 92.5 %" in text
    assert "65 lpi 1.68 : 1 no tone that prints evenly" in text
    apart = length_text(told["bands"][0]["period_mm"], read_sheet("letter"), decimals=1)
    assert f"bands {apart} apart at" in text
    assert told["less_moire"]
    for one in told["less_moire"]:
        name = one["change"].replace("_", " ")
        start = f"{name} {one['value']:g}: visibility {one['visibility']:.2g}, bands "
        apart = length_text(one["worst_period_mm"], read_sheet("letter"), decimals=1)
        assert f"{start}{apart} apart" in text


def test_the_example_of_limits_is_right():
    page = read_page("profiles")
    block = page[page.index("    verdict:\n") :].partition("\n\n")[0]
    text = "".join(f"{key}: {value}\n" for key, value in SAID.items()) + textwrap.dedent(block)
    profile = read_profile(text, name="test", file="test.yaml")
    assert profile.verdict.stroke == FailWarn(fail=80, warn=200)
    assert profile.verdict.ratio == 4
    assert profile.verdict.moire == MoireLimits(warn=0.03, fail=0.1, distance_mm=2000)


def test_an_assumed_thread_is_told_in_words():
    assert assumptions(profile_of().mesh) == []
    assert "80 µm is assumed" in assumptions(profile_of(mesh="110").mesh)[0]


def test_a_sheet_of_which_no_job_may_write_the_bits_is_told():
    art = {"art": "{treat: line}", "dpi": "2880"}
    told = describe_profile(profile_of(sheet="78 x 60 in", **art))
    assert told["warnings"][0].startswith(
        "A film of this sheet is a file of 4.6 GiB, and no job may write one of more than 4 GiB"
    )
    told = describe_profile(profile_of(sheet="60 x 60 in", **art))
    assert not any("GiB" in one for one in told["warnings"])


def test_films_of_a_set_are_told_by_their_own_meshes_and_screens():
    inks = """inks:
  - {name: red, color: "#b3261e"}
  - {name: blue, color: "#1d3f9c", mesh: 62-64, lpi: 30, angle: 22.5}
"""
    told = describe_profile(read_profile(GOOD_INKS + inks, name="p", file="p.yaml"))["set"]
    assert told["mode"] == "auto"
    red, blue = told["films"]
    assert (red["k"], red["ink"], red["mesh"], blue["mesh"]) == (
        1, "red", "110 (43-80)", "157 (62-64)",
    )  # fmt: skip
    assert (red["angle"], blue["angle"]) == pytest.approx((45, 22.5), abs=0.5)
    assert (red["lpi"], blue["lpi"]) == pytest.approx((25, 30), rel=0.02)


@pytest.mark.parametrize(
    ("more", "told"), [("", None), ("inks: auto 3\n", {"mode": "auto", "films": None})]
)
def test_no_films_are_told_before_they_are_known(more, told):
    assert describe_profile(read_profile(GOOD_INKS + more, name="p", file="p"))["set"] == told


def test_a_warning_of_some_inks_names_them():
    text = GOOD_INKS + "inks: process\nseparate: process\nmesh: 90-48\n"
    text = text.replace("mesh: 43-80\n", "")
    described = describe_profile(read_profile(text, name="p", file="p"))
    films = described["set"]["films"]
    assert [film["ink"] for film in films] == ["cyan", "magenta", "yellow", "black"]
    assert [round(film["angle"], 0) for film in films] == [22, 82, 8, 52]
    warned = [film["ink"] for film in films if film["warnings"]]
    for ink in warned:
        assert any(ink in warning or len(warned) == 4 for warning in described["warnings"])


GOOD_INKS = (
    "sheet: 100 x 120 mm\ndpi: 300\nlpi: 25\ndot: round\nthreshold: 50\nmesh: 43-80\nmargin: 5 mm\n"
)
