"""Curves that a reading of a wedge left: what their heads say, and which one a profile takes."""

from __future__ import annotations

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from filmhand.errors import ProfileError
from filmhand.pipeline.readings.measured_press import reading_warnings
from filmhand.profile.read.curve import CurveError, curve_from_text, curve_text, newest_usable
from filmhand.profile.read.curve_head import curve_head, head_lines
from filmhand.profile.read.load import from_snapshot, load_profile, load_profiles, to_snapshot
from filmhand.profile.terms import CurveHead, GainCurve, HeldSizes
from filmhand.profile.ticket.ticket import read_ticket

HEAD = CurveHead(
    date="2026-11-20",
    profile="shirts",
    mesh="110 (43-80)",
    screen="25 lpi, round, 45 degrees",
    dpi="300",
    ink="black, water-based",
    who="Ana",
    scans="scan.png",
    held=HeldSizes(310.0, 350.5, 200.0, None),
)
PAIRS = "10, 14\n50, 65\n90, 97\n"
CURVE = "\n".join(["# Read by filmhand.", *head_lines(HEAD), PAIRS])
OLDER = "10, 13\n50, 61\n90, 95\n"


@pytest.fixture
def station(tmp_path, good):
    (tmp_path / "profiles").mkdir()
    profile = tmp_path / "profiles" / "shirts.yaml"
    profile.write_text(good + "tone: {gain: measured}\n")
    (tmp_path / "shirts" / "curves").mkdir(parents=True)
    return tmp_path


def put(station, name, text):
    (station / "shirts" / "curves" / name).write_text(text)


def test_a_head_is_read_as_it_was_written():
    assert curve_head(CURVE) == HEAD
    assert curve_head(PAIRS) == CurveHead()


def test_a_head_ends_where_the_pairs_begin():
    assert curve_head(PAIRS + "# mesh: 43-80\n") == CurveHead()


@pytest.mark.parametrize("size", ["0 um", "99999 um", "-5 um", "300", "nan um", "3e2 um", "300 mm"])
def test_a_size_that_is_none_is_not_taken(size):
    assert curve_head(f"# smallest dot held: {size}\n").held == HeldSizes()
    assert curve_head("# smallest dot held: 300 µm\n").held.dot == 300


@settings(deadline=None)
@given(st.text(max_size=300))
def test_whatever_stands_there_fits_one_printable_line(said):
    (line,) = head_lines(CurveHead(who=said)) or ["#"]
    assert line.isprintable()
    assert len(line) < 220
    read = curve_head(line + "\n")
    assert curve_head("\n".join(head_lines(read))) == read


def test_the_newest_is_the_last_by_its_date():
    names = ["2026-11-09T0910-5f0e.txt", "2026-11-20T1730-91ab.txt", "2026-12-01T0000-00ff.json"]
    names += ["z.txt", ".2026-12-30.txt", "press.txt"]
    assert newest_usable(names, lambda name: PAIRS.encode()).name == f"curves/{names[1]}"
    assert newest_usable(["press.txt"], lambda name: b"") is None


def test_a_profile_takes_its_newest_reading(station):
    put(station, "2026-11-09T0910-5f0e.txt", OLDER)
    put(station, "2026-11-20T1730-91ab.txt", CURVE)
    profile = load_profile(station / "profiles" / "shirts.yaml")
    gain = profile.tone.gain
    assert isinstance(gain, GainCurve)
    assert gain.points[1:-1] == ((10, 14), (50, 65), (90, 97))
    assert gain.name == "curves/2026-11-20T1730-91ab.txt"
    assert gain.head == HEAD
    assert from_snapshot(json.loads(json.dumps(to_snapshot(profile)))) == profile
    assert load_profiles(station / "profiles")[0]["shirts"] == profile
    changed, _ = read_ticket("tone: {contrast: 1.2}", profile=profile, file="a.ticket.yaml")
    assert changed.tone.gain == gain


def test_a_profile_beside_its_own_folder_takes_it_too(station, good):
    (station / "shirts.yaml").write_text(good + "tone: {gain: measured}\n")
    put(station, "2026-11-20T1730-91ab.txt", CURVE)
    assert load_profile(station / "shirts.yaml").tone.gain.head == HEAD


def test_a_folder_elsewhere_holds_its_readings(station, tmp_path, good):
    curves = tmp_path / "share" / "curves"
    curves.mkdir(parents=True)
    (curves / "2026-11-20T1730-91ab.txt").write_text(CURVE)
    text = good + f"tone: {{gain: measured}}\nfolder: {tmp_path / 'share'}\n"
    (station / "profiles" / "shirts.yaml").write_text(text)
    assert load_profile(station / "profiles" / "shirts.yaml").tone.gain.head == HEAD


@pytest.mark.parametrize("there", [True, False])
def test_without_a_reading_nothing_is_invented(station, there):
    if not there:
        (station / "shirts" / "curves").rmdir()
    profile = load_profile(station / "profiles" / "shirts.yaml")
    assert profile.tone.gain == 0
    assert profile.curves == ()
    assert from_snapshot(json.loads(json.dumps(to_snapshot(profile)))) == profile


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"10, 14\n50, x\n", "curves/2026-11-20T1730-91ab.txt, whose line 2 must be film %"),
        (b"\xff\xff", "curves/2026-11-20T1730-91ab.txt, which is not UTF-8"),
        (b"#" * 65_537, "curves/2026-11-20T1730-91ab.txt, which is over 64 KiB"),
    ],
)
def test_a_reading_that_somebody_spoiled_is_named(station, content, says):
    (station / "shirts" / "curves" / "2026-11-20T1730-91ab.txt").write_bytes(content)
    with pytest.raises(ProfileError, match=says):
        load_profile(station / "profiles" / "shirts.yaml")


@pytest.mark.parametrize(
    "spoiled",
    [
        b"10, 14\n50, nan\n90, 97\n",
        b"10, 14\n50, 1e400\n90, 97\n",
        b"10, 14\n50, 12\n90, 97\n",
        b"10, 14\n",
        b"",
        b"\x00" * 300,
        "10, 14\n50, 65\n90, 97\n".encode("utf-16-le"),
        b"10, 14\n# Jos\xe9\n50, 65\n90, 97\n",
        b"#" * 10_000_000,
        OSError(40, "a link"),
        ValueError("no regular file"),
    ],
)
def test_a_spoiled_reading_is_told_and_the_one_before_it_is_in_force(spoiled):
    files = {"2026-11-09T0910-5f0e.txt": OLDER.encode(), "2026-11-20T1730-91ab.txt": spoiled}

    def read(name):
        if isinstance(files[name], Exception):
            raise files[name]
        return files[name][: 64 * 1024 + 1]

    found = newest_usable(list(files), read)
    assert found.text == OLDER
    (told,) = found.passed_over
    assert "2026-11-20T1730-91ab.txt" in told and "2026-11-09T0910-5f0e.txt, which is older" in told
    del files["2026-11-09T0910-5f0e.txt"]
    with pytest.raises(CurveError, match="2026-11-20T1730-91ab"):
        newest_usable(list(files), read)


def test_check_tells_of_a_spoiled_reading(station):
    put(station, "2026-11-09T0910-5f0e.txt", OLDER)
    put(station, "2026-11-20T1730-91ab.txt", "10, ?\n")
    profile = load_profile(station / "profiles" / "shirts.yaml")
    assert profile.tone.gain.points[2] == (50, 61)
    (told,) = reading_warnings(profile)
    assert told.startswith("tone.gain names the curve file curves/2026-11-20T1730-91ab.txt, whose")


@pytest.mark.parametrize(
    "written",
    [
        "# film;print\n12,5;14,25\n50;65,5\n90;97\n",
        "12,5\t14,25\r\n50\t65,5\r\n90\t97\r\n",
        "\ufeff12.5,14.25\n50,65.5\n90,97\n",
        "12,5% 14,25%\n50% 65,5%\n90% 97%\n",
    ],
)
@pytest.mark.parametrize("coding", ["utf-8", "utf-16"])
def test_curves_are_read_as_spreadsheets_and_editors_write_them(written, coding):
    text = curve_text(written.encode(coding), name="a.txt")
    points = curve_from_text(text, name="a.txt").points
    assert points[1:4] == ((12.5, 14.25), (50, 65.5), (90, 97))


@settings(deadline=None, max_examples=300)
@given(st.binary(max_size=300))
def test_whatever_lies_there_is_a_curve_or_an_error_in_words(data):
    try:
        curve = curve_from_text(curve_text(data, name="a.txt"), name="a.txt")
    except CurveError as error:
        assert "a.txt" in str(error)
    else:
        films, prints = zip(*curve.points, strict=True)
        assert list(films) == sorted(set(films)) and list(prints) == sorted(prints)
        assert films[0] == prints[0] == 0 and films[-1] == prints[-1] == 100
