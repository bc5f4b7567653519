"""Profiles: what is read, and how each fault is told."""

from __future__ import annotations

import hashlib
import json
import os
import re
from dataclasses import FrozenInstanceError, asdict
from dataclasses import fields as fields_of
from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from filmhand.errors import EnvironmentTrouble, ExitCode, ProfileError
from filmhand.film.formats import Format
from filmhand.profile.model import Profile
from filmhand.profile.read.load import (
    from_snapshot,
    load_profile,
    load_profiles,
    read_profile,
    to_snapshot,
)
from filmhand.profile.terms import (
    Aim,
    Automatic,
    Channel,
    Fit,
    GainCurve,
    Margin,
    OnMoire,
    Place,
    Treat,
    Turn,
)
from filmhand.screen.dot_shapes import Dot, DotShape
from filmhand.units import Resolution, SheetSize

SHIPPED = Path(__file__).parents[3] / "profiles"


def with_line(good, key, value):
    """The good profile with one of its lines changed, and that line's number."""
    lines = good.splitlines()
    number = next(i for i, line in enumerate(lines) if line.startswith(f"{key}:"))
    lines[number] = f"{key}: {value}"
    return "\n".join(lines) + "\n", number + 1


def without(good, *keys):
    return "".join(
        line for line in good.splitlines(keepends=True) if line.partition(":")[0] not in keys
    )


def test_required_keys_are_read(good, read):
    profile = read(good)
    assert profile.name == "p"
    assert profile.sheet == SheetSize(21590, 27940)
    assert profile.dpi == Resolution(300, 300)
    assert (profile.lpi, profile.dot, profile.threshold) == (25.0, DotShape(Dot.ROUND), 50.0)
    assert profile.mesh is not None
    assert profile.mesh.label == "110 (43-80)"
    assert profile.margin == Margin(6.35, 6.35, 6.35, 6.35)
    assert profile.text == good
    assert profile.sha256 == hashlib.sha256(good.encode()).hexdigest()


def test_defaults(good, read):
    p = read(good)
    assert p.angle == 45
    assert asdict(p.art) == {
        "treat": Treat.AUTO,
        "trim": Automatic.OFF,
        "crop": None,
        "fit": {"kind": "page", "mm": None, "height_mm": None},
        "turn": Turn.AUTO,
        "place": Place.CENTER,
        "repeat": None,
        "gap": 5.0,
        "tile": Automatic.OFF,
        "overlap": 10.0,
        "channel": Channel.LUMINANCE,
        "detail": Automatic.AUTO,
    }
    assert asdict(p.tone) == {
        "endpoints": "auto",
        "contrast": 1.0,
        "midtone": 0.0,
        "dropout": 0.0,
        "gain": 0.0,
        "aim": Aim.TONE,
        "hold": "auto",
    }
    assert asdict(p.marks) == {
        "label": True,
        "ruler": True,
        "solid": True,
        "steps": False,
        "register": None,
    }
    assert asdict(p.film) == {"mirror": False, "negative": False, "stack": 1}
    assert p.write == (Format.PDF,)
    assert (p.settle, p.takeover, p.folder, p.workers) == (None, 900.0, None, None)
    assert asdict(p.limits) == {
        "megapixels": 400.0,
        "megabytes": 512.0,
        "pages": 50,
        "seconds": 600.0,
        "memory": 2 * 2**30,
        "moire": OnMoire.WARN,
    }


def test_every_default_may_be_written_out(good, read):
    written = """\
angle: 45
art: {treat: auto, fit: page, turn: auto, place: center, channel: luminance}
tone: {endpoints: auto, contrast: 1.0, midtone: 0, dropout: 0, gain: 0, aim: tone, hold: auto}
marks: {label: true, ruler: true, solid: true, steps: false, register: auto}
film: {mirror: false, negative: false}
write: pdf
settle: auto
takeover: 15 min
folder: null
workers: own
limits:
  megapixels: 400
  megabytes: 512
  pages: 50
  seconds: 600
  memory: 2 GiB
  moire: warn
"""
    a, b = read(good), read(good + written)
    fields = {field.name for field in fields_of(Profile)} - {"text", "sha256", "settings"}
    assert {f: getattr(a, f) for f in fields} == {f: getattr(b, f) for f in fields}


def test_every_other_value_is_read(good, read):
    p = read(
        good
        + """\
angle: 22.5
art: {treat: tone, fit: width 7 in, turn: never, place: top-left, channel: black}
tone: {endpoints: [0.5, 2], contrast: 1.2, midtone: -5, dropout: 3, gain: 12, hold: [8, 92]}
marks: {label: no, ruler: off, solid: False, steps: yes, register: on}
film: {mirror: true, negative: yes}
write: [tiff, pdf]
settle: 250 ms
takeover: 1 h
folder: /mnt/share/small-sheet
workers: {at: dask://shop-7.lan:8786, unencrypted: yes}
limits: {megapixels: 0.5, megabytes: 1, pages: 2, seconds: 30, memory: 512 MiB, moire: refuse}
"""
    )
    assert p.angle == 22.5
    assert p.art.fit == Fit("width", pytest.approx(177.8))
    assert (p.art.turn, p.art.place, p.art.channel) == (Turn.NEVER, Place.TOP_LEFT, Channel.BLACK)
    assert (p.tone.endpoints, p.tone.hold, p.tone.gain) == ((0.5, 2), (8, 92), 12)
    assert (p.marks.label, p.marks.ruler, p.marks.solid) == (False, False, False)
    assert (p.marks.steps, p.marks.register) == (True, True)
    assert (p.film.mirror, p.film.negative) == (True, True)
    assert p.write == (Format.TIFF, Format.PDF)
    assert (p.settle, p.takeover, p.folder) == (0.25, 3600, Path("/mnt/share/small-sheet"))
    assert p.workers == "dask://shop-7.lan:8786"
    assert (p.limits.memory, p.limits.moire) == (2**29, OnMoire.REFUSE)


@pytest.mark.parametrize(
    ("written", "margin"),
    [
        ("10 mm", (10, 10, 10, 10)),
        ("4 mm, 5 mm, 6 mm, 7 mm", (4, 5, 6, 7)),
        ("4mm 5mm 6mm 7mm", (4, 5, 6, 7)),
        ("[4 mm, 0.5 cm, 6 mm, 7 mm]", (4, 5, 6, 7)),
        ("0 mm", (0, 0, 0, 0)),
    ],
)
def test_margin_is_one_length_or_four(good, read, written, margin):
    assert read(with_line(good, "margin", written)[0]).margin == Margin(*margin)


def test_groups_with_all_their_lines_commented_out_are_defaults(good, read):
    assert read(good + "art:\n#  treat: tone\nlimits:\n").art.treat is Treat.AUTO


def test_mesh_none_and_written_out(good, read):
    assert read(with_line(good, "mesh", "none")[0]).mesh is None
    mesh = "{threads_per_cm: 43, thread: 80 um, opening: 149 um}"
    assert read(with_line(good, "mesh", mesh)[0]).mesh.opening_um == 149


def test_a_profile_cannot_be_changed(good, read):
    with pytest.raises(FrozenInstanceError):
        read(good).lpi = 30


# Faults of single values: the key's place, what is allowed, what was found.


@pytest.mark.parametrize(
    ("key", "value", "says"),
    [
        ("sheet", "nineteen", "sheet must be a size such as 8.5 x 11 in.*, not 'nineteen'"),
        ("sheet", "8.5 x 11", "sheet must be a size such as"),
        ("dpi", "30", "dpi must be a whole number from 72 to 4800.*, not 30$"),
        ("dpi", "600dpi", "dpi must be .*not '600dpi'"),
        ("lpi", "twenty", "lpi must be a number from 5 to 200, not 'twenty'$"),
        ("lpi", "400", "lpi must be a number from 5 to 200, not 400$"),
        ("lpi", "", "lpi must be a number from 5 to 200, not left empty$"),
        ("lpi", "true", "lpi must be a number from 5 to 200, not true$"),
        ("lpi", "'25'", "not '25'; take the quotes away$"),
        ("lpi", "22,5", "not '22,5'; a decimal point is a full stop: 22.5$"),
        ("lpi", "25 lpi", "not '25 lpi'; write the number alone: 25$"),
        ("dpi", "600 dpi", "not '600 dpi'; write the number alone: 600$"),
        ("dpi", "600 x 1200 dpi", "write the number alone: 600 x 1200$"),
        ("mesh", "110 threads", "write the number alone: 110$"),
        ("mesh", "110 mesh", "write the number alone: 110$"),
        ("lpi", ".inf", "lpi must be a number from 5 to 200, not '.inf'$"),
        ("lpi", "1e999", "lpi must be a number from 5 to 200, not 1e999$"),
        ("lpi", "9" * 4000, "lpi must be a number from 5 to 200, not 9+…$"),
        (
            "dot",
            "elipse",
            "dot must be round, ellipse, .* grain or spot .*, not 'elipse'; .* ellipse.$",
        ),
        ("dot", "no", "dot must be round, .*, not 'no'$"),
        ("dot", "Round", "did you mean round.$"),
        ("dot", "3", "dot must be round, .* grain or spot .*, not 3$"),
        ("threshold", "0", "threshold must be a number from 1 to 99, not 0$"),
        ("threshold", "50%", "write the number alone: 50$"),
        ("mesh", "115", r"mesh .*nearest are 110 \(43-80\) and 122 \(48-70\), not 115$"),
        ("mesh", "", "mesh must be threads per cm and thread such as 43-80, .*, not left empty$"),
        ("mesh", "110-80", "write 43-80, not '110-80'$"),
        ("margin", "0.25", "must be one length .*, not 0.25; the unit is missing: 0.25 in$"),
        ("margin", "0,25 in", "a decimal point is a full stop: 0.25 in$"),
        ("margin", "[1 mm, 2 mm]", r"margin must be .*, not the list \[1 mm, 2 mm\]$"),
        ("margin", "[1, 2, 3, 4]", "each with its unit, not the list"),
        ("margin", "1 mm 2 mm 3 mm", "margin must be one length .*or four"),
    ],
)
def test_faults_of_the_required_keys(good, faults, key, value, says):
    text, number = with_line(good, key, value)
    ((line, column, found, message),) = faults(text)
    assert (line, column, found) == (number, 1, key)
    assert re.search(says, message), message


@pytest.mark.parametrize(
    ("written", "column", "key", "says"),
    [
        ("angle: 181", 1, "angle", "from 0 to 180, not 181"),
        ("angle: -1", 1, "angle", "from 0 to 180, not -1"),
        ("art: {treat: lines}", 7, "art.treat", "or auto, not 'lines'; did you mean line?"),
        ("art: {fit: wide}", 7, "art.fit", "page, own or a size such as width 7 in, height 9 in"),
        ("art: {fit: width 7}", 7, "art.fit", "such as width 7 in"),
        ("art: {fit: width 0 in}", 7, "art.fit", "from 5 mm to 2000 mm, not 'width 0 in'"),
        ("art: {fit: 7 in}", 7, "art.fit", "such as width 7 in"),
        ("art: {turn: no}", 7, "art.turn", "auto or never, not 'no'"),
        ("art: {turn: false}", 7, "art.turn", "auto or never, not false"),
        ("art: {place: centr}", 7, "art.place", "did you mean center?"),
        ("art: {channel: gray}", 7, "art.channel", "luminance, lightness, alpha, red"),
        ("art: 5", 1, "art", "settings, with treat, trim, crop, fit, turn, place"),
        ("art: [tone]", 1, "art", "a group of settings"),
        ("tone: {endpoints: on}", 8, "tone.endpoints", "auto, off or [black %, white %]"),
        ("tone: {endpoints: [50, 0]}", 8, "tone.endpoints", "from 0 to 40, not the list [50, 0]"),
        ("tone: {endpoints: [1]}", 8, "tone.endpoints", "[black %, white %]"),
        ("tone: {contrast: 0.1}", 8, "tone.contrast", "from 0.2 to 5, not 0.1"),
        ("tone: {midtone: 26}", 8, "tone.midtone", "from -25 to 25, not 26"),
        ("tone: {dropout: 51}", 8, "tone.dropout", "from 0 to 50, not 51"),
        ("tone: {gain: 41}", 8, "tone.gain", "a number from 0 to 40, a list of"),
        ("tone: {aim: dots}", 8, "tone.aim", "tone or luminance"),
        ("tone: {gain: '12,5'}", 8, "tone.gain", "a decimal point is a full stop: 12.5"),
        ("tone: {gain: [1, 2, 3]}", 8, "tone.gain", "pairs such as [[10, 14]"),
        ("tone: {gain: []}", 8, "tone.gain", "not the list []"),
        ("tone: {gain: [[0, 0], [50, 60], [60, 50]]}", 8, "tone.gain", "falls from 60"),
        ("tone: {gain: {a: 1}}", 8, "tone.gain", "not a group of settings"),
        ("tone: {gain: press.csv}", 8, "tone.gain", "press.csv, which cannot be read from here"),
        ("tone: {hold: [90, 10]}", 8, "tone.hold", "with the min smaller than the max"),
        ("tone: {hold: [50, 50]}", 8, "tone.hold", "with the min smaller than the max"),
        ("tone: {hold: [10, 101]}", 8, "tone.hold", "each from 0 to 100"),
        ("marks: {label: maybe}", 9, "marks.label", "true or false (or yes or no), not 'maybe'"),
        ("marks: {steps: 1}", 9, "marks.steps", "true or false (or yes or no), not 1"),
        ("marks: {register: }", 9, "marks.register", "(or yes or no), not left empty"),
        ("film: {mirror: 'true'}", 8, "film.mirror", "true or false"),
        ("write: jpeg", 1, "write", "pdf, tiff, png, pwg or a list of them, not 'jpeg'"),
        ("write: [pdf, tif]", 1, "write", "did you mean tiff?"),
        ("write: []", 1, "write", "not the list []"),
        ("write: [pdf, pdf]", 1, "write", "each format once"),
        ("settle: 2", 1, "settle", "auto or a duration from 10 ms to 1 h, such as 2 s, not 2"),
        ("settle: 2 h", 1, "settle", "from 10 ms to 1 h"),
        ("takeover: auto", 1, "takeover", "from 1 s to 168 h, such as 15 min, not 'auto'"),
        ("folder: here", 1, "folder", "null or a full path"),
        ("folder: 3", 1, "folder", "null or a full path such as /mnt/share/small-sheet, not 3"),
        ("workers: 2", 1, "workers", "own, or a scheduler with its port such as dask://127.0.0.1"),
        ("workers: dask://shop", 1, "workers", "a scheduler with its port"),
        ("workers: tcp://shop:8786", 1, "workers", "a scheduler with its port"),
        ("workers: dask://shop:70000", 1, "workers", "a scheduler with its port"),
        ("workers: dask://user@shop:1", 1, "workers", "a scheduler with its port"),
        ("workers: dask://shop:1", 1, "workers", "as dask+tls://shop:1, or the group {at: dask"),
        ("workers: dask://[fe80::1]:1", 1, "workers", "encrypted where the cluster is another"),
        ("workers: {unencrypted: true}", 1, "workers", "a group that says at, such as {at: dask"),
        ("workers: {at: dask://shop:1}", 1, "workers", "{at: dask://shop:1, unencrypted: true}"),
        ("workers: {at: dask://b:1, unencrypted: no}", 1, "workers", "unencrypted: true} if"),
        ("workers: {unencrypted: true}", 1, "workers", "a group that says at, such as"),
        ("workers: {at: own}", 11, "workers.at", "a scheduler with its port such as"),
        ("workers: {at: dask://b:1, open: yes}", 27, "workers.open", "stand at, unencrypted"),
        ("limits: {megapixels: 0}", 10, "limits.megapixels", "from 0.001 to 10000, not 0"),
        ("limits: {pages: 1.5}", 10, "limits.pages", "a whole number from 1 to 10000, not 1.5"),
        ("limits: {memory: 2}", 10, "limits.memory", "such as 2 GiB, not 2"),
        ("limits: {memory: 1 MiB}", 10, "limits.memory", "from 64 MiB to 1024 GiB"),
        ("limits: {moire: on}", 10, "limits.moire", "warn or refuse, not 'on'"),
    ],
)  # fmt: skip
def test_faults_of_the_other_keys(good, faults, written, column, key, says):
    ((line, at, found, message),) = faults(good + "# a comment\n" + written + "\n")
    assert (line, at, found) == (9, column, key)
    assert message.startswith(key)
    assert says in message


@pytest.mark.parametrize(
    ("written", "column", "key", "says"),
    [
        ("angel: 3", 1, "angel", "angel is not a known key; did you mean angle?"),
        ("Settle: auto", 1, "Settle", "did you mean settle?"),
        ("treat: tone", 1, "treat", "did you mean art.treat, which belongs inside art?"),
        ("art: {tret: tone}", 7, "art.tret", "did you mean art.treat?"),
        ("art: {angle: 3}", 7, "art.angle", "did you mean angle, which belongs at the top level?"),
        ("art: {mirror: true}", 7, "art.mirror", "did you mean film.mirror"),
        ("limits: {memry: 1 GiB}", 10, "limits.memry", "did you mean limits.memory?"),
        ("zzz: 3", 1, "zzz", "zzz is not a known key; in a profile stand sheet, dpi, lpi"),
        ("art: {zzz: 3}", 7, "art.zzz", "inside art stand treat, trim, crop, fit, turn"),
    ],
)
def test_unknown_keys_name_the_nearest(good, faults, written, column, key, says):
    ((line, at, found, message),) = faults(good + written)
    assert (line, at, found) == (8, column, key)
    assert says in message


@pytest.mark.parametrize(
    "written",
    [
        "trial: true",
        "printer: office",
        "scale: 100.1",
        "approval: true",
        "name: x",
        "text: x",
        "sha256: x",
        "curves: x",
        "settings: x",
    ],
)
def test_keys_that_this_version_does_not_know(good, faults, written):
    ((line, _, _, message),) = faults(good + written)
    assert line == 8
    assert "is not a known key" in message


def test_faults_inside_a_mesh_stand_at_their_key(good, faults):
    text, line = with_line(good, "mesh", "{threads_per_cm: 43, thred: 80 um, thickness: 3}")
    found = faults(text)
    assert [(f[0], f[1], f[2]) for f in found] == [
        (line, 1, "mesh.thread"),
        (line, 28, "mesh.thred"),
        (line, 42, "mesh.thickness"),
    ]
    assert found[1][3] == "mesh.thred is not a known key; did you mean mesh.thread?"


@pytest.mark.parametrize("key", ["sheet", "dpi", "lpi", "dot", "threshold", "mesh", "margin"])
def test_a_missing_key_is_named(good, faults, key):
    ((line, column, found, message),) = faults(without(good, key))
    assert (line, column, found) == (1, 1, key)
    assert message.startswith(f"{key} is missing; it is required")


def test_a_misspelled_key_is_not_also_missing(good, faults):
    ((line, _, key, message),) = faults(good.replace("lpi", "lip"))
    assert (line, key) == (3, "lip")
    assert message.endswith("did you mean lpi?")


def test_line_art_needs_no_screen_and_tone_no_threshold(good, read, faults):
    line_only = read(without(good, "lpi", "dot") + "art: {treat: line}\n")
    assert (line_only.lpi, line_only.dot, line_only.threshold) == (None, None, 50)
    tone_only = read(without(good, "threshold") + "art: {treat: tone}\n")
    assert (tone_only.lpi, tone_only.threshold) == (25, None)
    missing = faults(without(good, "lpi", "dot", "threshold") + "art: {treat: line}\n")
    assert [key for _, _, key, _ in missing] == ["threshold"]
    assert "art.treat is line" in missing[0][3]


# Pairs that are right for themselves and not together.


@pytest.mark.parametrize(
    ("dpi", "highest"), [("300", "75"), ("1200 x 600", "150"), ("150", "37.5")]
)
def test_lpi_over_a_quarter_of_the_dpi_names_the_highest(good, faults, dpi, highest):
    text, _ = with_line(good, "dpi", dpi)
    ((line, column, key, message),) = faults(with_line(text, "lpi", "151")[0])
    assert (line, column, key) == (3, 1, "lpi")
    assert message.startswith(f"lpi must be {highest} or less at {dpi} dpi")
    assert message.endswith("not 151")


def test_lpi_of_exactly_a_quarter_is_right(good, read):
    assert read(with_line(good, "lpi", "75")[0]).lpi == 75


def test_a_margin_that_leaves_no_sheet(good, faults):
    ((line, _, key, message),) = faults(with_line(good, "margin", "6 in")[0])
    assert (line, key) == (7, "margin")
    assert message.startswith(
        "margin leaves no sheet: of 8.5 x 11 in (215.9 x 279.4 mm), 0 x 0 in (0 x 0 mm) remain"
    )
    ((_, _, _, message),) = faults(with_line(good, "margin", "1 mm 105 mm 1 mm 105 mm")[0])
    assert "0.23 x 10.92 in (5.9 x 277.4 mm) remain" in message


def test_art_wider_than_the_sheet(good, read, faults):
    wide = good + "art: {fit: width 10 in}\n"
    assert read(wide).art.fit.mm == pytest.approx(254)  # turned, it lies along the sheet
    ((_, _, key, message),) = faults(wide.replace("in}", "in, turn: never}"))
    assert key == "art.fit"
    assert "a width of 8 in (203.2 mm) or less" in message


def test_pairs_are_judged_beside_other_faults(good, faults):
    text = good.replace("lpi: 25", "lpi: 80").replace("round", "rond") + "angle: x\n"
    assert [(line, key) for line, _, key, _ in faults(text)] == [
        (3, "lpi"),
        (4, "dot"),
        (8, "angle"),
    ]


def test_all_faults_of_a_file_come_at_once(faults):
    found = faults(
        "sheet: nineteen\n"
        "dpi: 30\n"
        "lip: 25\n"
        "dot: elipse\n"
        "dot: round\n"
        "art:\n"
        "  tret: tone\n"
        "  fit: *x\n"
        "marks: {label: maybe, ruler: 3}\n"
        "1: x\n"
    )
    assert [(line, key) for line, _, key, _ in found] == [
        (1, "sheet"), (1, "mesh"), (1, "margin"), (1, "threshold"), (2, "dpi"), (3, "lip"),
        (4, "dot"), (5, "dot"), (7, "art.tret"), (8, "art.fit"), (9, "marks.label"),
        (9, "marks.ruler"), (10, ""),
    ]  # fmt: skip


def test_a_fault_prints_as_one_plain_line(good):
    with pytest.raises(ProfileError) as caught:
        read_profile(good.replace("25", "2"), name="p", file="profiles/p.yaml")
    assert str(caught.value) == (
        "profiles/p.yaml line 3, column 1: lpi must be a number from 5 to 200, not 2"
    )
    assert caught.value.exit_code is ExitCode.PROFILE


def test_a_merge_hides_no_key_that_only_seems_missing(good, faults):
    ((line, _, _, message),) = faults(without(good, "lpi") + "<<: {lpi: 25}\n")
    assert line == 7
    assert "<< (a merge) cannot be used" in message


# Files and folders.


def test_a_curve_file_lies_beside_the_profile(good, tmp_path):
    (tmp_path / "press.csv").write_text("10, 14\n50, 65\n90, 97\n")
    (tmp_path / "p.yaml").write_text(good + "tone: {gain: press.csv}\n")
    profile = load_profile(tmp_path / "p.yaml")
    assert profile.tone.gain == GainCurve(
        ((0, 0), (10, 14), (50, 65), (90, 97), (100, 100)),
        "press.csv",
        hashlib.sha256(b"10, 14\n50, 65\n90, 97\n").hexdigest(),
    )
    (tmp_path / "press.csv").unlink()
    assert from_snapshot(json.loads(json.dumps(to_snapshot(profile)))) == profile


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (None, "not beside the profile"),
        (b"\xff, 1", "not UTF-8"),
        (b"\xff\xfe", "has 0 points"),
        (b"1, 2\n", "has 1 point, and"),
        (b"#" * 70000, "over 64 KiB"),
    ],
)
def test_a_curve_file_that_is_not_right(good, tmp_path, content, says):
    if content is not None:
        (tmp_path / "press.csv").write_bytes(content)
    (tmp_path / "p.yaml").write_text(good + "tone:\n  gain: press.csv\n")
    with pytest.raises(ProfileError) as caught:
        load_profile(tmp_path / "p.yaml")
    (fault,) = caught.value.faulty.faults
    assert (fault.line, fault.column, fault.key) == (9, 3, "tone.gain")
    assert fault.message.startswith("tone.gain names the curve file press.csv")
    assert says in fault.message


@pytest.mark.parametrize("name", ["x" * 300, "a/b/c.csv", "../..", "no.csv", "/dev/null"])
def test_a_curve_name_that_is_no_file(good, tmp_path, name):
    (tmp_path / "p.yaml").write_text(good + f"tone: {{gain: {name}}}\n")
    with pytest.raises(ProfileError, match="names the curve file"):
        load_profile(tmp_path / "p.yaml")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs named pipes")
def test_a_pipe_as_curve_file_is_not_waited_for(good, tmp_path):
    os.mkfifo(tmp_path / "press.csv")
    (tmp_path / "p.yaml").write_text(good + "tone: {gain: press.csv}\n")
    with pytest.raises(ProfileError, match="not beside the profile"):
        load_profile(tmp_path / "p.yaml")


def test_the_hash_is_that_of_the_bytes(good, tmp_path):
    raw = b"\xef\xbb\xbf" + good.replace("\n", "\r\n").encode()
    (tmp_path / "p.yaml").write_bytes(raw)
    profile = load_profile(tmp_path / "p.yaml")
    assert profile.sha256 == hashlib.sha256(raw).hexdigest()
    assert from_snapshot(to_snapshot(profile)) == profile


def test_a_file_that_is_not_there_or_no_text(tmp_path):
    with pytest.raises(
        ProfileError, match=r"p\.yaml: there is no such profile; filmhand new-profile"
    ):
        load_profile(tmp_path / "p.yaml")
    (tmp_path / "p.yaml").write_bytes(b"lpi: 25\ndot: \xe9\n")
    with pytest.raises(
        ProfileError, match=r"p\.yaml line 2, column 6: a character here is not UTF-8"
    ):
        load_profile(tmp_path / "p.yaml")
    (tmp_path / "p.yaml").write_bytes(b"#" * 70_000)
    with pytest.raises(ProfileError, match="64 KiB or less"):
        load_profile(tmp_path / "p.yaml")


@pytest.mark.parametrize("stem", ["profiles", "status", "-x", "a:b", "x" * 120, "x."])
def test_a_name_that_cannot_be_a_folder(good, tmp_path, stem):
    (tmp_path / f"{stem}.yaml").write_text(good.replace("25", "x", 1))
    with pytest.raises(ProfileError) as caught:
        load_profile(tmp_path / f"{stem}.yaml")
    first, *rest = caught.value.faulty.faults
    assert "rename the file" in first.message
    assert (first.line, first.column, first.key) == (1, 1, "")
    assert rest  # and the faults inside the file as well


def test_a_folder_gives_the_right_ones_and_the_faulty(good, tmp_path):
    (tmp_path / "a.yaml").write_text(good)
    (tmp_path / "b.yml").write_text(good)
    (tmp_path / "c.yaml").write_text("lpi: x")
    (tmp_path / "A.yml").write_text(good)
    (tmp_path / ".hidden.yaml").write_text("x")
    (tmp_path / "press.csv").write_text("x")
    (tmp_path / "d.yaml").mkdir()
    profiles, faulty = load_profiles(tmp_path)
    assert sorted(profiles) == ["A", "b"]
    assert [Path(f.file).name for f in faulty] == ["a.yaml", "c.yaml", "d.yaml"]
    assert faulty[0].faults[0].message == "A.yml already gives the profile a; rename one of the two"


def test_a_folder_that_is_not_there_has_no_profiles(tmp_path):
    assert load_profiles(tmp_path / "none") == ({}, [])


def test_a_folder_that_cannot_be_listed_is_the_surroundings_fault(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(EnvironmentTrouble, match="cannot be listed"):
        load_profiles(tmp_path / "file")


def test_the_shipped_profiles_are_right():
    profiles, faulty = load_profiles(SHIPPED)
    assert faulty == []
    assert len(profiles) >= 7
    for name in profiles:
        text = (SHIPPED / f"{name}.yaml").read_text()
        assert text.startswith("# "), f"{name} begins with when to use it"


@pytest.mark.parametrize("name", sorted(path.stem for path in SHIPPED.glob("*.yaml")))
def test_the_shipped_profiles_suit_their_mesh(name):
    profile = load_profile(SHIPPED / f"{name}.yaml")
    assert profile.mesh is not None
    if profile.lpi is not None:
        # The trade divides the inch count by 4 to 5 (help.screenprinting.com, What's LPI).
        assert 4 <= profile.mesh.threads_per_inch / profile.lpi <= 5.3
        # Fewer than 64 dot sizes are too few (common practice, no source).
        assert (profile.dpi.x / profile.lpi) ** 2 + 1 >= 64


# Any text at all gives a profile or a ProfileError.

_VALUES = st.one_of(
    st.text(max_size=12),
    st.integers(),
    st.floats(allow_nan=False),
    st.booleans(),
    st.none(),
    st.sampled_from(["auto", "off", "none", "43-80", "1 mm", "width 7 in", "page", "2 s", "x.csv"]),
)
_KEYS = st.sampled_from(
    ["sheet", "dpi", "lpi", "dot", "threshold", "mesh", "margin", "angle", "art", "tone", "marks",
     "repair", "screened", "film", "write", "settle", "takeover", "folder", "workers", "limits",
     "treat", "fit", "gain", "hold", "endpoints", "memory", "thread", "threads_per_cm",
     "opening", "<<", "1", "lip"]
)  # fmt: skip
_TREES = st.dictionaries(
    _KEYS,
    st.recursive(
        _VALUES,
        lambda inner: st.lists(inner, max_size=4) | st.dictionaries(_KEYS, inner, max_size=4),
        max_leaves=6,
    ),
    max_size=6,
)


def gives_profile_or_error(text):
    try:
        profile = read_profile(text, name="p", file="p.yaml")
    except ProfileError as error:
        assert error.faulty.faults
        for fault in error.faulty.faults:
            assert fault.message.strip()
            assert fault.line >= 1
            assert fault.column >= 1
    else:
        assert from_snapshot(to_snapshot(profile)) == profile


@settings(max_examples=300, deadline=None)
@given(st.text(max_size=60))
def test_any_text_gives_a_profile_or_an_error(text):
    gives_profile_or_error(text)


@settings(max_examples=200, deadline=None)
@given(st.text("ab:-[]{}\"'&*!|>%@#\n \t,?1~<\\Ux0", max_size=40))
def test_any_yaml_like_text_gives_a_profile_or_an_error(text):
    gives_profile_or_error(text)


@settings(max_examples=300, deadline=None)
@given(_TREES, st.booleans())
def test_any_tree_of_known_words_gives_a_profile_or_an_error(tree, complete):
    base = yaml.safe_load(
        "{sheet: a4, dpi: 300, lpi: 25, dot: round, threshold: 50, mesh: 43-80, margin: 6 mm}"
    )
    whole = {**base, **tree} if complete else tree
    gives_profile_or_error(yaml.safe_dump(whole, allow_unicode=True))


@settings(max_examples=100, deadline=None)
@given(st.binary(max_size=80))
def test_any_bytes_give_a_profile_or_an_error(tmp_path_factory, raw):
    path = tmp_path_factory.getbasetemp() / "any.yaml"
    path.write_bytes(raw)
    with pytest.raises(ProfileError):
        load_profile(path)


@pytest.mark.parametrize(
    ("written", "shape"),
    [
        ("grain", DotShape(Dot.GRAIN)),
        ("ellipse", DotShape(Dot.ELLIPSE)),
        ("ellipse 0.6", DotShape(Dot.ELLIPSE, ratio=0.6)),
        ("ellipse .95", DotShape(Dot.ELLIPSE, ratio=0.95)),
        ("spot 1 - x*x  - y*y", DotShape(Dot.SPOT, spot="1 - x*x - y*y")),
        ("'spot cos(180*x) + cos(180*y)'", DotShape(Dot.SPOT, spot="cos(180*x) + cos(180*y)")),
    ],
)
def test_shapes_of_dots(good, read, written, shape):
    profile = read(good.replace("dot: round", f"dot: {written}"))
    assert profile.dot == shape
    again = from_snapshot(to_snapshot(profile))
    assert again.dot == shape


@pytest.mark.parametrize(
    ("written", "says"),
    [
        ("ellipse 1", "dot must be ellipse with a ratio .* from 0.4 to 0.95, not 'ellipse 1'"),
        ("ellipse wide", "dot must be ellipse with a ratio"),
        ("round 0.5", "dot must be round, ellipse,"),
        ("spot", "function of x and y that is 1 to 300 characters long"),
        ("spot open(x)", "made of numbers, x, y"),
        ("spot 3", "not the same everywhere"),
    ],
)
def test_shapes_that_are_none(good, read, written, says):
    with pytest.raises(ProfileError) as error:
        read(good.replace("dot: round", f"dot: {written}"))
    (fault,) = error.value.faulty.faults
    assert fault.key == "dot"
    assert re.search(says, fault.message), fault.message


@pytest.mark.parametrize(
    ("workers", "address"),
    [
        ("dask://127.0.0.1:8786", "dask://127.0.0.1:8786"),
        ("dask://localhost:1", "dask://localhost:1"),
        ("dask://[::1]:1", "dask://[::1]:1"),
        ("dask+tls://shop:8786", "dask+tls://shop:8786"),
        ("{at: dask+tls://shop:8786}", "dask+tls://shop:8786"),
        ("{at: dask://shop:8786, unencrypted: true}", "dask://shop:8786"),
        ("{at: dask://127.0.0.1:8786, unencrypted: false}", "dask://127.0.0.1:8786"),
    ],
)
def test_a_cluster_elsewhere_is_encrypted_or_meant_not_to_be(good, read, workers, address):
    profile = read(good + f"workers: {workers}\n")
    assert profile.workers == address
    assert from_snapshot(to_snapshot(profile)).workers == address


def test_the_finest_ruling_goes_by_the_film_as_the_printer_scales_it(good, read, faults):
    text = good.replace("lpi: 25", "lpi: 75")
    scaled = text + "print: {scale: [100 %, 101 %]}\n"
    assert read(text).lpi == 75
    ((_, _, key, message),) = faults(scaled)
    assert key == "lpi"
    assert message == (
        "lpi must be 74.25 or less at the 300 x 297.03 dpi that print.scale gives the film (a "
        "quarter of the dpi), not 75"
    )
