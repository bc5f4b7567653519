"""What is kept of a wedge that was read: by the service, and by the command."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from filmhand.cli.main import main
from filmhand.errors import Refused
from filmhand.pipeline.readings.earlier_readings import (
    NamedReading,
    NoReadingError,
    agreeing,
    named_reading,
    own_as_json,
)
from filmhand.pipeline.readings.kept_reading import keep_reading, kept_reading
from filmhand.profile.read.curve import curve_from_text
from filmhand.reading.reading import PatchReading, ReadOf, SizesHeld, WedgeReading
from filmhand.request import READING_ENDS, JobRequest
from press.scans import Scanner


@pytest.fixture(scope="module")
def scan(printed_wedge, tmp_path_factory):
    path = tmp_path_factory.mktemp("scan") / "scan.png"
    Image.fromarray(printed_wedge.scanned(Scanner())).save(path)
    return path


def request_of(scan, profile, folder, sub=""):
    for name in ("out", "scratch"):
        (folder / name).mkdir()
    return JobRequest(
        art=scan,
        name="monday.png",
        profile=profile,
        out=folder / "out",
        scratch=folder / "scratch",
        sub=sub,
        is_scan=True,
    )


def test_a_scan_of_a_print_leaves_curve_figures_and_plot(
    scan, wedge_profile, printed_wedge, tmp_path
):
    made = keep_reading(request_of(scan, wedge_profile, tmp_path))
    assert sorted(made.reading) == sorted(READING_ENDS)
    assert made.films == []
    curve = curve_from_text(made.reading[".txt"].read_text(), name="curve.txt")
    off = [
        printed - np.interp(film, *zip(*printed_wedge.tones.items(), strict=True))
        for film, printed in curve.points
        if film in printed_wedge.tones
    ]
    assert len(off) > 15
    assert np.abs(off).max() < 2
    assert (curve.head.mesh, curve.head.screen) == ("110 (43-80)", "30 lpi, round, 22.5 degrees")
    assert (curve.head.dpi, curve.head.scans) == ("300", "monday.png")
    told = json.loads(made.reading[".json"].read_text())
    assert told["curve"] == [list(pair) for pair in curve.points]
    assert curve.head.held.dot == pytest.approx(told["held_um"]["dots"], abs=0.1)
    with Image.open(made.reading[".png"]) as plot:
        assert plot.size[0] > 600


def test_of_a_film_there_are_figures_and_no_curve(wedge_profile):
    reading = WedgeReading(
        ReadOf.FILM, "code", (PatchReading(0, 0, 0.2), PatchReading(50, 56, 0.2))
    )
    kept = kept_reading([reading], wedge_profile, scans=["film.png"])
    assert kept.curve is None
    assert list(kept.files) == [".json"]
    assert json.loads(kept.files[".json"])["scans"] == ["film.png"]


def test_what_is_said_of_the_curve_stands_beside_its_figures_too(wedge_profile):
    readings = [
        WedgeReading(
            ReadOf.PRINT,
            "code",
            tuple(
                PatchReading(tone, at_48 if tone == 48 else tone, 0.3) for tone in range(4, 99, 4)
            ),
            notes=("seen from its other side",),
        )
        for at_48 in (48, 58)
    ]
    kept = kept_reading(readings, wedge_profile, scans=["a.png", "b.png"])
    assert [note.partition(" on ")[0] for note in kept.reading.notes] == [
        "seen from its other side",
        "The readings do not agree",
    ]
    assert json.loads(kept.files[".json"])["notes"] == list(kept.reading.notes)


def test_readings_that_contradict_themselves_are_refused(wedge_profile):
    patches = tuple(PatchReading(tone, 80 - tone, 0.2) for tone in range(2, 80, 3))
    reading = WedgeReading(ReadOf.PRINT, "code", patches, SizesHeld(dots=200.0))
    with pytest.raises(Refused, match="out of line with the tones beside them"):
        kept_reading([reading], wedge_profile, scans=["a.png"])


def test_the_command_writes_curve_and_plot_and_says_how_to_use_them(scan, wedge_profile, tmp_path):
    profile = tmp_path / "shop.yaml"
    profile.write_text(wedge_profile.text)
    curve = tmp_path / "press.txt"
    words = ["calibrate", str(scan), "--profile", str(profile), "--out", str(curve)]
    done = CliRunner().invoke(main, words)
    assert done.exit_code == 0
    assert "tone: {gain: press.txt}" in done.output
    assert (tmp_path / "press.png").exists()
    profile.write_text(wedge_profile.text + "tone: {gain: press.txt}\n")
    checked = CliRunner().invoke(main, ["check", str(profile), "--json"])
    (told,) = json.loads(checked.output)
    assert told["curve"]["name"] == "press.txt"
    assert not any("press curve" in warning for warning in told["warnings"])
    as_json = CliRunner().invoke(main, [*words, "--json"])
    told = json.loads(as_json.output)
    assert told["schema"] == "filmhand-reading/1"
    assert {"film_pct", "measured_pct", "error_pct"} == set(told["patches"][0])
    assert (told["of"], told["plot"]) == ("print", str(tmp_path / "press.png"))
    assert {"gain_at_50", "smallest_held_um"} <= told.keys()


def test_a_curve_that_lies_elsewhere_is_to_be_put_beside_the_profile(scan, wedge_profile, tmp_path):
    (tmp_path / "here").mkdir()
    profile = tmp_path / "here" / "shop.yaml"
    profile.write_text(wedge_profile.text)
    curve = tmp_path / "press.txt"
    words = ["calibrate", str(scan), "--profile", str(profile), "--out", str(curve)]
    done = CliRunner().invoke(main, words)
    assert f"Put {curve} beside the profile" in done.output.replace("\n", " ")


CODE = "FW1:SHOP:0123ABCD:30:22.5:ROUND:300X300:100X100:43-80:690X890:-"


def named(name, add, *, code=CODE, of=ReadOf.PRINT):
    tones = range(0, 101, 4)
    patches = [
        PatchReading(tone, round(tone + add * tone * (100 - tone) / 2500, 2), 0.3) for tone in tones
    ]
    return NamedReading(name, WedgeReading(of, code, tuple(patches), SizesHeld(dots=200.0)))


def figures(one, profile):
    return kept_reading([one.reading], profile, scans=[one.scan]).files[".json"]


def test_figures_give_back_the_scan_that_they_were_made_of(wedge_profile):
    first, second = named("a.png", 5), named("b.png", 7)
    assert named_reading(figures(first, wedge_profile)) == first
    both = kept_reading(
        [first.reading, second.reading], wedge_profile, scans=["a.png", "b.png"], own=second
    )
    assert named_reading(both.files[".json"]) == second
    assert json.loads(both.files[".json"])["scans"] == ["a.png", "b.png"]


@pytest.mark.parametrize(
    "change",
    [
        lambda told: told["patches"][3].update(measured_pct=float("nan")),
        lambda told: told["patches"][3].update(film_pct=True),
        lambda told: told["patches"].reverse(),
        lambda told: told.update(patches=told["patches"] * 50),
        lambda told: told.update(wedge="FW1:?"),
        lambda told: told.update(scans=["a", "b"]),
        lambda told: told.update(scale_pct=[1e999, 1]),
        lambda told: told.update(ppi=10**400),
        lambda told: told.pop("held_um"),
        lambda told: told.update(own=[]),
    ],
)
def test_what_no_reading_can_be_is_not_taken_for_one(wedge_profile, change):
    told = json.loads(figures(named("a.png", 5), wedge_profile))
    change(told)
    with pytest.raises(NoReadingError):
        named_reading(json.dumps(told))
    with pytest.raises(NoReadingError):
        named_reading("[" * 100_000)


def test_a_scan_is_read_with_those_of_the_same_wedge_before_it(
    scan, wedge_profile, tmp_path, monkeypatch
):
    alone = named("c.png", 6)
    monkeypatch.setattr(
        "filmhand.pipeline.readings.kept_reading.read_scan", lambda *_, **__: alone.reading
    )
    earlier = {
        "same.json": figures(named("a.png", 4), wedge_profile),
        "edited.json": figures(
            named("b.png", 5, code=CODE.replace("0123ABCD", "FFFFFFFF")), wedge_profile
        ),
        "screen.json": figures(
            named("s.png", 20, code=CODE.replace(":30:", ":35:")), wedge_profile
        ),
        "film.json": figures(named("f.png", 20, of=ReadOf.FILM), wedge_profile),
        "forged.json": b"{}",
    }
    for name, data in earlier.items():
        (tmp_path / name).write_bytes(data)
    request = request_of(scan, wedge_profile, tmp_path)
    made = keep_reading(replace(request, earlier=tuple(tmp_path / name for name in earlier)))
    told = json.loads(made.reading[".json"].read_text())
    assert told["scans"] == ["a.png", "b.png", "monday.png"]
    assert told["gain_at_50"] == pytest.approx(5, abs=0.02)
    assert told["own"]["gain_at_50"] == pytest.approx(6, abs=0.02)
    assert any(note.startswith("Read together with a.png and b.png,") for note in told["notes"])
    assert [note for note in told["notes"] if "forged.json" in note]
    assert "# scans: a.png, b.png and monday.png" in made.reading[".txt"].read_text()


def test_a_scan_through_which_and_those_before_no_curve_goes_counts_alone_and_tells_it(
    scan, wedge_profile, tmp_path, monkeypatch
):
    alone = named("b.png", 6)
    monkeypatch.setattr(
        "filmhand.pipeline.readings.kept_reading.read_scan", lambda *_, **__: alone.reading
    )
    falls = tuple(PatchReading(tone, 80 - tone, 0.02) for tone in range(4, 80, 4))
    earlier = [tmp_path / "a.json", tmp_path / "b.json"]
    for path in earlier:
        before = NamedReading("a.png", replace(alone.reading, patches=falls))
        path.write_text(json.dumps(own_as_json(before)))
    request = request_of(scan, wedge_profile, tmp_path)
    made = keep_reading(replace(request, earlier=tuple(earlier)))
    told, text = json.loads(made.reading[".json"].read_text()), made.reading[".txt"].read_text()
    assert told["scans"] == ["monday.png"] and "# scans: monday.png\n" in text
    assert told["gain_at_50"] == pytest.approx(6, abs=0.02)
    (note,) = (one for one in told["notes"] if "not read together with a.png" in one)
    assert "out of line with the tones beside them" in note
    assert "# - It was not read together with a.png" in text


def test_a_scan_far_from_all_others_is_left_out_and_told():
    kept, (note,) = agreeing([named("a", 5), named("bad", 15), named("b", 6), named("c", 5)])
    assert [one.scan for one in kept] == ["a", "b", "c"]
    assert note.startswith("bad was left out: its tones lie ")
    kept, (note,) = agreeing([named("a", 5), named("bad", 15)])
    assert [one.scan for one in kept] == ["a", "bad"]
    assert note.startswith("a and bad differ by ")
    assert agreeing([named("a", 5), named("b", 6)])[1] == []
