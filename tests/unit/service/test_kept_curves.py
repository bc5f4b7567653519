"""The curves that a station keeps: what is told of them, and that a new one is taken."""

from __future__ import annotations

import errno
import json
import sys
from dataclasses import replace
from datetime import date
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image

sys.path.insert(0, str(Path(__file__).parents[2] / "failure"))

import job_harness

from filmhand.cli.main import main
from filmhand.cli.press.curves import curve_lines
from filmhand.cli.station import print_status
from filmhand.disk.beneath import Beneath
from filmhand.disk.folders import Folders
from filmhand.errors import FilmhandError, ProfileError
from filmhand.page.page_profiles import profile_part
from filmhand.profile.read.load import load_profile
from filmhand.queue.settings import QueueSettings
from filmhand.service.doctor.doctor_words import Level, Topic
from filmhand.service.doctor.readings import examine_readings
from filmhand.service.profile_registry import ProfileRegistry
from filmhand.service.station import Station

PROFILE = """
sheet: 4 x 6 in
dpi: 300
lpi: 25
dot: round
threshold: 50
mesh: 43-80
margin: 0.25 in
tone: {gain: measured}
"""
HEAD = "# date: 2026-11-{day}\n# mesh: 43-80\n# smallest dot held: 315 µm\n"


@pytest.fixture
def station(tmp_path):
    (tmp_path / "profiles").mkdir()
    (tmp_path / "profiles" / "shirts.yaml").write_text(PROFILE)
    (tmp_path / "shirts" / "curves").mkdir(parents=True)
    return tmp_path


def put(station, day, at_50, text=None):
    curve = station / "shirts" / "curves" / f"2026-11-{day}-101500-abcdef.txt"
    curve.write_text(text or HEAD.format(day=day) + f"10, 12\n50, {at_50}\n90, 95\n")


def run(*words):
    with pytest.raises(SystemExit) as ended:
        main([str(word) for word in words])
    return ended.value.code


def test_curves_are_told_from_the_oldest_to_the_one_in_force(station, capsys):
    for day, at_50 in (("05", 61), ("12", 64.5), ("26", 70)):
        put(station, day, at_50)
    assert run("curves", station, "shirts", "--state", station / "state", "--json") == 0
    told = json.loads(capsys.readouterr().out)
    assert [one["print_at_50"] for one in told] == [61, 64.5, 70]
    assert [one["in_force"] for one in told] == [False, False, True]
    assert told[2]["smallest_held_um"]["dot"] == 315
    assert told[2]["gain_at_50"] == 20
    assert run("curves", station, "shirts", "--state", station / "state") == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[1].startswith("2026-11-05   61.0  ..........|.....*")
    assert lines[3].endswith("315  curves/2026-11-26-101500-abcdef.txt  in force")
    assert all(len(line) <= 110 for line in lines)


def test_they_are_drawn_over_one_another(station, capsys):
    put(station, "05", 61)
    put(station, "12", 64.5)
    state, plot = station / "state", station / "plot.png"
    assert run("curves", station, "shirts", "--state", state, "--plot", plot) == 0
    assert Image.open(BytesIO(plot.read_bytes())).size[0] > 600
    alone = plot.read_bytes()
    (station / "profiles" / "shirts.yaml").write_text(PROFILE + INKS)
    (station / "shirts" / "curves" / "red").mkdir()
    curve = station / "shirts" / "curves" / "red" / "2026-11-20-1.txt"
    curve.write_text("10, 12\n50, 58\n90, 95\n")
    capsys.readouterr()
    assert run("curves", station, "shirts", "--state", state, "--plot", plot) == 0
    # The curve of an ink is no newer one of the profile's.
    assert plot.read_bytes() == alone and plot.with_stem("plot-red").is_file()
    assert capsys.readouterr().out.endswith(f"{plot}\n{plot.with_stem('plot-red')}\n")


def test_where_nothing_was_read_that_is_told(station, capsys):
    plot = station / "plot.png"
    assert run("curves", station, "shirts", "--state", station / "state", "--plot", plot) == 0
    assert "No press curve was read yet" in capsys.readouterr().out
    assert not plot.exists()


def test_a_curve_that_was_spoiled_is_named_beside_the_others(station):
    put(station, "05", 61)
    put(station, "04", 0, text="10, x\n")
    told = [{"name": "curves/a.txt", "fault": "curves/a.txt is no curve.", "in_force": False}]
    kept = Station(station, state=station / "state").curves("shirts")
    assert [one.curve is None for one in kept] == [True, False]
    assert "whose line 1 must be film %" in kept[0].fault
    assert list(curve_lines(told)) == ["curves/a.txt is no curve."]


def test_a_profile_that_is_not_there_is_named(station):
    with pytest.raises(FilmhandError, match="no profile shorts at this station; it has: shirts"):
        Station(station, state=station / "state").curves("shorts")


def test_where_the_newest_was_spoiled_that_is_told_and_not_that_there_is_no_profile(station):
    put(station, "12", 0, text="10, x\n")
    with pytest.raises(ProfileError) as told:
        Station(station, state=station / "state").curves("shirts")
    assert "curves/2026-11-12-101500-abcdef.txt" in told.value.faulty.lines()[0]


def test_a_share_that_is_gone_for_a_while_leaves_its_curve_in_force(station, tmp_path):
    share = tmp_path / "share"
    text = PROFILE + f"folder: {share}\n"
    (station / "profiles" / "shirts.yaml").write_text(text)
    Folders(share, elsewhere=True).make()
    (station / "shirts" / "curves").rename(share / "curves")
    (share / "curves" / "2026-11-05-101500-abcdef.txt").write_text("10, 12\n50, 61\n90, 95\n")
    registry = ProfileRegistry(station / "profiles", station)
    registry.read()
    share.rename(tmp_path / "away")
    registry.changed()
    assert registry.changed()
    registry.read()
    assert registry.profiles["shirts"].tone.gain.points[2] == (50, 61)
    with pytest.raises(FilmhandError, match="connect its disk or share"):
        Station(station, state=station / "state").curves("shirts")
    (tmp_path / "away").rename(share)
    (share / "curves" / "2026-11-05-101500-abcdef.txt").unlink()
    registry.read()
    assert registry.profiles["shirts"].tone.gain == 0


@pytest.mark.parametrize("curve", [True, False])
def test_nothing_is_made_before_a_share_that_was_away_at_the_start_told_its_curve(
    station, tmp_path, curve
):
    share, away = tmp_path / "share", tmp_path / "away"
    (station / "profiles" / "shirts.yaml").write_text(PROFILE + f"folder: {share}\n")
    folders = Folders(share, elsewhere=True)
    folders.make()
    if curve:
        folders.make_measuring()
        (share / "curves" / "2026-11-05-101500-abcdef.txt").write_text("10, 12\n50, 61\n90, 95\n")
    (share / "drop" / "a.png").write_bytes(b"art")
    share.rename(away)
    registry = ProfileRegistry(station / "profiles", station)
    registry.read()
    assert registry.uncertain == {"shirts"}
    away.rename(share)
    profile = registry.profiles["shirts"]
    settings = replace(QueueSettings.of(profile), curve_unknown=True, settle=0.0)
    queue = job_harness.make_queue(share, tmp_path / "state", elsewhere=True)
    queue.change(settings)
    queue.look()
    assert queue.take() is None and "press curve is not known yet" in queue.trouble.pause.why
    registry.changed()
    assert registry.changed() and registry.read()
    assert registry.uncertain == set()
    assert (registry.profiles["shirts"].tone.gain != 0) is curve


def test_what_is_no_file_is_no_reading(station):
    (station / "shirts" / "curves" / "2026-11-05-1.txt").symlink_to("/dev/zero")
    with pytest.raises(ProfileError) as told:
        load_profile(station / "profiles" / "shirts.yaml")
    assert "2026-11-05-1.txt, which is not there" in told.value.faulty.lines()[0]


def test_a_new_reading_makes_the_service_read_the_profile_again(station):
    registry = ProfileRegistry(station / "profiles", station)
    registry.read()
    assert registry.profiles["shirts"].tone.gain == 0
    assert not registry.changed()
    put(station, "05", 61)
    registry.changed()
    assert registry.changed()
    assert registry.read()
    assert registry.profiles["shirts"].tone.gain.points[2] == (50, 61)
    assert not registry.changed()
    put(station, "12", 64.5)
    registry.changed()
    assert registry.changed()
    assert registry.read()
    assert registry.profiles["shirts"].tone.gain.points[2] == (50, 64.5)


def test_a_spoiled_reading_keeps_the_profile_as_it_was(station):
    put(station, "05", 61)
    registry = ProfileRegistry(station / "profiles", station)
    registry.read()
    put(station, "12", 0, text="no curve\n")
    registry.read()
    assert registry.profiles["shirts"].tone.gain.points[2] == (50, 61)
    assert "curves/2026-11-12-101500-abcdef.txt, whose line 1" in registry.faults[0]


def test_a_reading_that_could_not_be_read_for_a_moment_is_looked_at_again(station, monkeypatch):
    put(station, "05", 61)
    put(station, "12", 64)
    broken, now, read_bytes = {"12"}, [0.0], Beneath.read_bytes

    def read(place, most):
        if any(f"-{day}-" in place.name for day in broken):
            raise OSError(errno.EIO, "Input/output error")
        return read_bytes(place, most)

    monkeypatch.setattr(Beneath, "read_bytes", read)
    registry = ProfileRegistry(station / "profiles", station, clock=lambda: now[0])

    def look():
        now[0] += 11
        changed = registry.changed()
        return changed and registry.read(), registry.profiles["shirts"].tone.gain.points[2][1]

    registry.read()
    assert "12-101500-abcdef.txt, which cannot be read" in registry.faults[0]
    assert look() == (False, 61)
    broken.clear()
    assert look() == (True, 64) and registry.faults == []
    broken.add("12")
    put(station, "12", 64)
    assert not registry.changed()
    # What was in force is not given up for an older one.
    assert look() == (True, 64) and "stays in force" in registry.faults[0]
    broken.add("05")
    assert look() == (False, 64)
    broken.clear()
    assert look() == (True, 64) and registry.faults == []
    assert look() == (False, 64) and not registry.changed()


def test_a_link_in_place_of_a_reading_is_not_followed(station, tmp_path):
    (tmp_path / "secret").write_text("10, 12\n50, 61\n90, 95\n")
    (station / "shirts" / "curves" / "2026-11-05-1.txt").symlink_to(tmp_path / "secret")
    registry = ProfileRegistry(station / "profiles", station)
    registry.read()
    assert "shirts" not in registry.profiles
    assert "cannot be read" in registry.faults[0]


def part_of(station):
    profile = load_profile(station / "profiles" / "shirts.yaml")
    told = {"name": "shirts", "state": "working", "in_work": [], "waiting": [], "left_alone": []}
    settings = QueueSettings.of(profile)
    told |= {"waiting_count": 0, "curve": settings.curve_told()}
    told |= {"ink_curves": settings.ink_curves_told()}
    return profile_part(told, "shirts")


def test_the_page_shows_the_newest_curve_with_its_plot(station):
    assert "No press curve was read yet" in part_of(station)
    put(station, "05", 61)
    part = part_of(station)
    assert (
        "press curve read on 2026-11-05: 50 % on the film prints 61 %; dots hold from 315" in part
    )
    assert 'href="shirts/curves/2026-11-05-101500-abcdef.png"' in part
    (station / "profiles" / "shirts.yaml").write_text(PROFILE.replace("measured", "12"))
    assert "press curve" not in part_of(station)


INKS = """inks:
  - {name: red, color: "#b3261e"}
  - {name: dark blue, color: "#1c2c8c"}
  - {name: gray, color: "#777777"}
"""


def test_page_status_and_doctor_tell_which_inks_were_read_and_which_not(station, capsys):
    file, folder = station / "profiles" / "shirts.yaml", Folders(station / "shirts")
    file.write_text(PROFILE + INKS)

    def said():
        profile = load_profile(file)
        found = examine_readings("shirts", profile, folder, today=date(2026, 11, 30))
        part = {"name": "shirts", "state": "working", "paused": None, "working": []}
        part |= {"waiting": [], "left_alone": [], "curve": QueueSettings.of(profile).curve_told()}
        part |= {"ink_curves": QueueSettings.of(profile).ink_curves_told()}
        counts = dict.fromkeys(("waiting", "working", "made", "refused"), 0)
        told = {"running": True, "counts": counts, "faults": [], "made": [], "refused": []}
        print_status(told | {"profiles": [part]})
        return part_of(station), capsys.readouterr().out, [(one.level, one.say) for one in found]

    assert all("No press curve was read yet" in one for one in said()[:2])
    (station / "shirts" / "curves" / "dark-blue").mkdir()
    text = HEAD.format(day="05") + "10, 12\n50, 58\n90, 95\n"
    name = "2026-11-05-101500-abcdef"
    (station / "shirts" / "curves" / "dark-blue" / f"{name}.txt").write_text(text)
    page, status, found = said()
    assert "dark-blue</bdi>: " in page and "50 % on the film prints 58 %" in page
    assert f'href="shirts/curves/dark-blue/{name}.png"' in page and "plot of dark-blue" in page
    for one in (page, status):
        assert "of these inks yet: red, gray." in one and "was read yet" not in one
    (lacks,) = (say for level, say in found if level is Level.NOTE)
    assert lacks.endswith("that adds nothing: red, gray.")
    put(station, "12", 61)  # what the other inks go by then
    page, status, found = said()
    assert "No press curve" not in page + status and [level for level, _ in found] == [Level.OK]
    assert "prints 58 %" in page and "prints 61 %" in page


def test_doctor_tells_what_may_not_hold(station):
    folder, curves = Folders(station / "shirts"), station / "shirts" / "curves"

    def told(day=date(2026, 11, 30), text=PROFILE):
        (station / "profiles" / "shirts.yaml").write_text(text)
        (station / "shirts.yaml").write_text(text)
        profile = load_profile(station / "profiles" / "shirts.yaml")
        found = list(examine_readings("shirts", profile, folder, today=day))
        assert all(bool(one.do) is (one.level is not Level.OK) for one in found)
        return [(one.level.value, one.say) for one in found]

    ((level, say),) = told()
    assert level == "note" and "no reading lies in curves/" in say
    put(station, 20, 60)
    assert told() == [
        ("ok", "Films go by what was read of the press: curves/2026-11-20-101500-abcdef.txt.")
    ]
    assert told(day=date(2027, 11, 20)) == told()
    ((level, say),) = told(day=date(2027, 11, 21))
    assert level == "note" and "was read on 2026-11-20, more than a year ago" in say
    ((level, say),) = told(text=PROFILE.replace("43-80", "90-48"))
    assert level == "note" and "it was read on the mesh 43-80" in say
    assert told(text=PROFILE.replace("measured", "10")) == []

    put(station, 10, 60, text="no curve")
    (curves / "Red").mkdir()
    (curves / "Red" / "2026-11-10-101500-abcdef.txt").write_text("10, 12\n50, 60\n90, 95\n")
    spoiled, strange = told()
    assert "2026-11-10" in spoiled[1] and "curves/Red" in strange[1]
    put(station, 21, 60, text="no curve")  # newer: told with the profiles
    assert told() == [spoiled, strange]


def test_doctor_names_the_station_whose_press_was_never_read(station):
    told = list(Station(station, state=station / "state").doctor())
    (found,) = (one for one in told if one.what is Topic.READINGS)
    assert found.level is Level.NOTE and found.where == "shirts"
