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
from filmhand.pipeline.render.screen_plan import (
    angles_of_less_moire,
    angles_to_try,
    limits_of,
    mesh_angles_to_try,
    plan_screen,
    rulings_to_try,
    screen_checks,
    smallest_pixels,
)
from filmhand.profile.read.load import read_profile
from filmhand.profile.terms import FailWarn

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


def verdicts(**keys):
    profile = profile_of(**keys)
    return {check.name: check for check in screen_checks(profile, plan_screen(profile))}


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
        (
            "moire",
            {"angle": "39.5"},
            "{moire: {warn: 1 mm, fail: 2 mm}, moire_cells: {warn: 1, fail: 2}}",
        ),
    ],
)
def test_the_profiles_own_limits_decide(name, keys, own):
    assert verdicts(**keys)[name].verdict is Verdict.PASS
    assert verdicts(verdict=own, **keys)[name].verdict is Verdict.WARN


def test_a_beat_fails_only_where_the_profile_refuses_it_and_at_its_own_limits():
    refuse = {"limits": "{moire: refuse}"}
    assert verdicts()["moire"].verdict is Verdict.WARN
    assert verdicts(**refuse)["moire"].verdict is Verdict.FAIL
    wide = "{moire: {warn: 2000 mm, fail: 3000 mm}}"
    assert verdicts(verdict=wide, **refuse)["moire"].verdict is Verdict.PASS


def test_the_angle_of_the_mesh_turns_the_beat():
    turned = plan_screen(profile_of(press="{mesh_angle: 22.5}", angle="45")).moire
    straight = plan_screen(profile_of(angle="22.5")).moire
    # The lattices as made differ a little from what was asked, each in its own way.
    assert turned.period_mm == pytest.approx(straight.period_mm, rel=0.02)
    assert turned.period_mm < 0.5 * plan_screen(profile_of(angle="45")).moire.period_mm


def test_the_stretch_of_a_written_out_mesh_is_used():
    mesh = "{{threads_per_cm: 100, thread: 40 um, stretch: {}}}"
    keys = {"lpi": "60.96", "angle": "0", "dpi": "1200"}
    locked = plan_screen(profile_of(mesh=mesh.format(4), **keys)).moire
    free = plan_screen(profile_of(mesh=mesh.format(1), **keys)).moire
    assert locked.worst_period_mm == 1000
    assert free.worst_period_mm < 5


def test_what_beats_less_really_does_and_what_passes_really_passes():
    screen = {"mesh": "120-34", "lpi": "55", "angle": "45"}
    profile = profile_of(**screen)
    now = plan_screen(profile).moire.worst_period_mm
    assert angles_of_less_moire(profile)
    for choices, key in ((angles_to_try(profile), "angle"), (rulings_to_try(profile), "lpi")):
        assert any(choice.passes for choice in choices)
        for choice in choices:
            tried = profile_of(**(screen | {key: choice.value}))
            moire = plan_screen(tried).moire
            assert moire.worst_period_mm < 0.85 * now
            # The lattice as made is within 0.1 % and 0.05 degrees, so a tight one may differ.
            assert moire.worst_period_mm == pytest.approx(choice.moire.worst_period_mm, rel=0.05)
    passing = [choice.value for choice in rulings_to_try(profile) if choice.passes]
    assert all(value <= 76.8 for value in passing)  # what the mesh holds
    turns = mesh_angles_to_try(profile)
    assert turns and turns[0].passes


@pytest.mark.parametrize("keys", [{"dot": "grain"}, {"mesh": "none"}])
def test_where_nothing_beats_nothing_is_named(keys):
    profile = profile_of(**keys)
    assert plan_screen(profile).moire is None
    assert angles_of_less_moire(profile) == []
    assert angles_to_try(profile) == rulings_to_try(profile) == mesh_angles_to_try(profile) == []
    assert describe_profile(profile)["moire"]["period_mm"] is None


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
    assert {"period_mm", "worst_period_mm", "modulation_pct", "better_angles"} <= moire.keys()
    assert {"mesh_order", "dot_order", "angles", "rulings", "mesh_angles"} <= moire.keys()
    assert all(
        choice.keys() == {"angle", "worst_period_mm", "modulation_pct", "passes"}
        for choice in moire["angles"]
    )
    assert any("80 µm is assumed" in warning for warning in told["warnings"])


def test_rulings_that_the_printer_cannot_draw_are_left_out():
    told = describe_profile(profile_of(dpi="150", lpi="22"))
    assert [row["lpi"] for row in told["holds"]["by_lpi"]] == [20, 22, 25, 30, 35]


def test_a_beat_of_higher_orders_is_a_warning_of_its_own():
    # 2.5 threads a line at 0 degrees: (2,0) of the mesh is (5,0) of the dots.
    told = describe_profile(profile_of(mesh="40-60", lpi="40.64", angle="0"))
    assert told["moire"]["higher"]["mesh_order"] in ([2, 0], [0, 2])
    assert sum("higher order of the mesh" in warning for warning in told["warnings"]) == 1


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
    assert "25 lpi 4.37 : 1 tones 7.4 to 92.6 %" in text
    assert "65 lpi 1.68 : 1 no tone that prints evenly" in text
    assert "over 1000 mm at worst" in text
    for key, name in (("angles", "angle"), ("rulings", "lpi"), ("mesh_angles", "mesh_angle")):
        for choice in told["moire"][key]:
            start = f"{name.replace('_', ' ')} {choice[name]:g}: "
            assert f"{start}{choice['worst_period_mm']:.1f} mm at worst" in text


def test_the_example_of_limits_is_right():
    page = read_page("profiles")
    block = page[page.index("    verdict:\n") :].partition("\n\n")[0]
    text = "".join(f"{key}: {value}\n" for key, value in SAID.items()) + textwrap.dedent(block)
    profile = read_profile(text, name="test", file="test.yaml")
    assert profile.verdict.stroke == FailWarn(fail=80, warn=200)
    assert profile.verdict.ratio == 4
    assert profile.verdict.moire == FailWarn(warn=2, fail=6)


def test_an_assumed_thread_is_told_in_words():
    assert assumptions(profile_of().mesh) == []
    assert "80 µm is assumed" in assumptions(profile_of(mesh="110").mesh)[0]
