"""What a reading of the wedge changes: the curve, the sizes that are held, and what is told."""

from __future__ import annotations

import json

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from filmhand.cli.main import main
from filmhand.mesh.limits import MeshLimits
from filmhand.pipeline.press_curve import press_curve_of, press_notes, tone_rule
from filmhand.pipeline.profile_report import describe_profile
from filmhand.pipeline.readings.measured_press import (
    curve_record,
    held_notes,
    reading_warnings,
    screen_text,
)
from filmhand.pipeline.render.screen_plan import limits_of, smallest_pixels
from filmhand.profile.read.curve import CurveText
from filmhand.profile.read.curve_head import head_lines
from filmhand.profile.read.load import read_profile
from filmhand.profile.terms import CurveHead, HeldSizes
from filmhand.tone import curve_through

# SEFAR, Handbook of screen printing (film % to print % of one press; read 2026-11).
SEFAR = (
    (1, 0), (6, 2), (11, 7), (17, 15), (22, 22), (32, 35), (40, 44), (47, 53), (53, 59), (63, 76),
    (69, 84), (76, 89), (83, 94), (91, 98), (99, 100),
)  # fmt: skip
HEAD = CurveHead(
    date="2026-11-20",
    mesh="43-80",
    screen="25 lpi, round, 45 degrees",
    dpi="600",
    held=HeldSizes(dot=200.0, shadow_dot=400.0),
)


def profile_of(*, head=HEAD, tone="gain: measured", more="", **keys):
    said = {"sheet": "letter", "dpi": 600, "lpi": 25, "dot": "round", "threshold": 50}
    said |= {"mesh": "43-80", "margin": "6 mm"} | keys | {"tone": f"{{{tone}}}"}
    text = "".join(f"{key}: {value}\n" for key, value in said.items()) + more
    pairs = "".join(f"{film}, {printed}\n" for film, printed in SEFAR)
    curve = "\n".join([*head_lines(head), pairs]) if head else None

    def measured(name, folder):
        return CurveText("curves/2026-11-20T1730-91ab.txt", curve) if curve else None

    return read_profile(text, name="shirts", file="shirts.yaml", measured=measured)


def test_sizes_that_a_print_held_count_in_place_of_the_rule():
    profile = profile_of()
    rule, limits = MeshLimits.of(profile.mesh), limits_of(profile)
    assert limits.dot.warn_um == 200
    assert limits.dot.fail_um == pytest.approx(rule.dot.fail_um * 200 / rule.dot.warn_um)
    assert limits.shadow_dot.warn_um == 400
    assert (limits.stroke, limits.gap) == (rule.stroke, rule.gap)  # nobody saw strokes or gaps
    dot, shadow_dot = smallest_pixels(profile)
    assert dot < smallest_pixels(profile_of(head=None))[0] < shadow_dot


def test_what_the_profile_says_itself_counts_before_a_reading():
    profile = profile_of(more="verdict: {dot: {fail: 100 um, warn: 280 um}}\n")
    assert limits_of(profile).dot == (100, 280)
    assert limits_of(profile).shadow_dot.warn_um == 400
    assert "dots of 200" not in held_notes(profile)[0].replace("shadow dots", "")


def test_both_sizes_are_told():
    profile = profile_of()
    (note,) = held_notes(profile)
    assert "dots of 200 µm (by the mesh 313 µm)" in note
    assert "shadow dots of 400 µm (by the mesh 313 µm)" in note
    assert note in press_notes(profile)
    told = describe_profile(profile)
    assert told["holds"]["measured"] == [note]
    assert told["holds"]["smallest_dot_um"] == 200
    assert told["curve"] == curve_record(profile)
    assert told["curve"]["held"]["dot_um"] == {"held": 200, "by_mesh": 312.6}
    assert told["curve"]["date"] == "2026-11-20"
    assert len(told["curve"]["sha256"]) == 64
    assert "read on 2026-11-20" in tone_rule(profile)
    assert not any("tone.aim" in said for said in told["warnings"])


@pytest.mark.parametrize(
    ("keys", "says"),
    [
        ({"lpi": 30}, "it was read at 25 lpi, round, 45 degrees, and the screen is now 30 lpi"),
        ({"dot": "square"}, "the screen is now 25 lpi, square, 45 degrees"),
        ({"dot": "grain"}, "the screen is now 25 lpi, grain;"),
        ({"dpi": 720}, "it was read at 600 dpi, and the printer now lays down 720 dpi"),
        ({"mesh": "55-64"}, "it was read on the mesh 43-80, and the mesh is now 140 (55-64)"),
        ({"mesh": "none"}, "the mesh is now none"),
    ],
)
def test_a_reading_of_another_press_is_told(keys, says):
    profile = profile_of(**keys)
    (warned,) = reading_warnings(profile)
    assert says in warned
    assert warned in describe_profile(profile)["warnings"]


def test_sizes_of_another_mesh_do_not_count():
    profile = profile_of(mesh="55-64")
    assert limits_of(profile) == MeshLimits.of(profile.mesh)
    assert held_notes(profile) == []


@pytest.mark.parametrize("mesh", ["43-80", "110 (43-80)", "110"])
def test_the_same_press_warns_of_nothing_however_its_mesh_is_written(mesh):
    assert reading_warnings(profile_of(mesh=mesh)) == []
    assert screen_text(profile_of()) == HEAD.screen


def test_where_nothing_was_read_that_is_told_and_the_press_adds_nothing():
    profile = profile_of(head=None)
    (warned,) = reading_warnings(profile)
    assert "no reading lies in curves/ yet" in warned
    assert curve_record(profile) is None
    tones = np.linspace(0, 1, 101)
    assert press_curve_of(profile).print_of(tones) == pytest.approx(tones)
    assert reading_warnings(profile_of(tone="gain: 0")) == []


def test_below_the_smallest_dot_there_are_fewer_dots_of_its_size():
    press, plain = press_curve_of(profile_of()), curve_through(((0, 0), *SEFAR, (100, 100)))
    least = np.pi / 4 * (200 * 25 / 25400) ** 2  # a dot of 200 µm in each cell
    assert press.print_of(np.array([least])) == pytest.approx(
        plain.print_of(np.array([least])), abs=0.002
    )
    below = np.linspace(0, least, 9)
    assert press.print_of(below) == pytest.approx(press.print_of(np.array([least])) * below / least)
    above = np.linspace(0.1, 0.85, 50)
    assert press.print_of(above) == pytest.approx(plain.print_of(above), abs=1e-4)


def test_without_hold_no_tone_is_used_whose_dots_were_lost():
    press = press_curve_of(profile_of(tone="gain: measured, hold: off"))
    least = np.pi / 4 * (200 * 25 / 25400) ** 2
    most = 1 - np.pi / 4 * (400 * 25 / 25400) ** 2
    film = press.film_for(np.linspace(0, 1, 1001))
    assert (film[0], film[-1]) == (0, 1)
    assert film[1] == pytest.approx(least)
    assert film[-2] == pytest.approx(most)
    wanted = np.linspace(0.05, 0.95, 200)
    assert press.print_of(press.film_for(wanted)) == pytest.approx(wanted, abs=1e-4)


def test_pairs_that_tell_of_no_sizes_are_taken_as_they_are():
    press = press_curve_of(profile_of(head=CurveHead(date="2026-11-20", mesh="43-80")))
    assert press.film == pytest.approx(curve_through(((0, 0), *SEFAR, (100, 100))).film)


@pytest.mark.parametrize("read", [True, False])
def test_films_tell_by_which_curve_they_were_made(tmp_path, read):
    profile = tmp_path / "profiles" / "shirts.yaml"
    profile.parent.mkdir()
    profile.write_text(
        "sheet: 3 x 4 in\ndpi: 200\nlpi: 15\ndot: round\nthreshold: 50\nmesh: 43-80\n"
        "margin: 0.25 in\nart: {treat: tone}\nwrite: png\ntone: {gain: measured}\n"
    )
    if read:
        curves = tmp_path / "shirts" / "curves"
        curves.mkdir(parents=True)
        head = "# date: 2026-11-20\n# mesh: 43-80\n# smallest dot held: 400 µm\n"
        (curves / "2026-11-20-1.txt").write_text(f"{head}10, 14\n50, 65\n90, 97\n")
    (tmp_path / "out").mkdir()
    art = tmp_path / "ramp.png"
    Image.fromarray(np.tile(np.linspace(20, 235, 300).astype(np.uint8), (300, 1))).save(art)
    words = ["make", str(art), "--profile", str(profile), "--out", str(tmp_path / "out")]
    done = CliRunner().invoke(main, words)
    assert done.exit_code == 0, done.output
    record = json.loads((tmp_path / "out" / "ramp.json").read_text())
    if not read:
        assert record["curve"] is None
        assert any("no reading lies in curves/ yet" in said for said in record["reminders"])
        return
    assert record["curve"]["name"] == "curves/2026-11-20-1.txt"
    assert record["curve"]["held"] == {"dot_um": {"held": 400.0, "by_mesh": 312.6}}
    assert not any("press curve" in said for said in record["reminders"])
    assert any("read on 2026-11-20" in note for note in record["notes"])
    assert any("dots of 400 µm (by the mesh 313 µm)" in note for note in record["notes"])
    smallest = next(one for one in record["checks"] if one["name"] == "smallest dot")
    assert smallest["warn_limit"] == 400
    assert smallest["measured"] >= 400
