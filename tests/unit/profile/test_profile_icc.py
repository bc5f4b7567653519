"""The ICC profile of a press, as a profile of ours names it."""

from __future__ import annotations

import struct
from pathlib import Path

import pytest

from filmhand.errors import ProfileError
from filmhand.pipeline.separation.planning.set_plan import SeparationMode
from filmhand.pipeline.separation.planning.wanted_inks import known_inks
from filmhand.pipeline.separation.planning.wanted_set import wanted_set
from filmhand.profile.icc import IccWish, RenderingIntent
from filmhand.profile.read.load import from_snapshot, load_profile, to_snapshot, with_icc_at
from filmhand.profile.ticket.ticket import read_ticket

PROCESS = "inks: process\n"


def icc(kind: bytes = b"prtr", space: bytes = b"CMYK", size: int = 200) -> bytes:
    """An ICC profile without tables."""
    head = struct.pack(">I4xI4s4s4s12x4s", 200, 0x02400000, kind, space, b"Lab ", b"acsp")
    return head.ljust(size, b"\0")


@pytest.fixture
def load(tmp_path: Path, good: str):
    def load(more: str, data: bytes | None = None):
        (tmp_path / "press.icc").write_bytes(icc() if data is None else data)
        (tmp_path / "a.yaml").write_text(good + more)
        return load_profile(tmp_path / "a.yaml")

    return load


def faults(load, more: str, data: bytes | None = None) -> list[tuple[str, str]]:
    with pytest.raises(ProfileError) as caught:
        load(more, data)
    return [(one.key, one.message) for one in caught.value.faulty.faults]


def test_off_is_what_holds(load) -> None:
    assert load(PROCESS).icc is None and load(PROCESS + "icc: off\n").icc is None


def test_a_file_beside_the_profile(load, tmp_path) -> None:
    profile = load(PROCESS + "icc: press.icc\n")
    assert profile.icc.intent is RenderingIntent.RELATIVE
    assert profile.icc.file.path == tmp_path / "press.icc"
    assert profile.icc.file.read() == icc()
    assert from_snapshot(to_snapshot(profile)).icc == profile.icc


def test_it_is_the_same_wherever_it_lies(load, tmp_path) -> None:
    profile = load(PROCESS + "icc: press.icc\n")
    (tmp_path / "there").mkdir()
    (tmp_path / "press.icc").rename(tmp_path / "there" / "other.icc")
    there = with_icc_at(profile, tmp_path / "there" / "other.icc")
    assert there.icc.file.read() == icc() and there.icc.file.name == "press.icc"
    inks = known_inks(load(PROCESS))
    assert inks is not None
    assert wanted_set(there, inks, SeparationMode.PROCESS) == wanted_set(
        profile, inks, SeparationMode.PROCESS
    )


def test_a_group_has_the_intent(load) -> None:
    wish = load(PROCESS + "icc: {file: press.icc, intent: perceptual}\n").icc
    assert isinstance(wish, IccWish) and wish.intent is RenderingIntent.PERCEPTUAL


def test_a_measured_gain_stays_that_beside_it(load) -> None:
    profile = load(PROCESS + "icc: press.icc\ntone: {gain: measured}\n")
    assert from_snapshot(to_snapshot(profile)).tone.gain == 0


def test_another_file_in_its_place_is_told(load, tmp_path) -> None:
    profile = load(PROCESS + "icc: press.icc\n")
    (tmp_path / "press.icc").write_bytes(icc(size=201))
    with pytest.raises(OSError, match="not the file any more") as caught:
        profile.icc.file.read()
    assert caught.value.strerror.startswith("it is not")


@pytest.mark.parametrize(("inks", "stays"), [("off", False), ("auto 3", False), ("process", True)])
def test_an_icc_profile_does_not_hold_for_other_inks_of_a_ticket(load, inks, stays) -> None:
    profile = load(PROCESS + "icc: press.icc\n")
    changed, _ = read_ticket(f"inks: {inks}\n", profile=profile, file="t")
    assert (changed.icc is not None) is stays


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"text", "is not an ICC profile at all"),
        (icc(size=199), "is shorter than it says"),
        (icc(kind=b"mntr"), "is one of a display, and must be one of a press"),
        (icc(kind=b"scnr"), "is one of a scanner or camera"),
        (icc(kind=b"zzzz"), "is 'zzzz', and must be"),
        (icc(space=b"RGB "), "is of a press for RGB, and must be of one for CMYK"),
        (icc(space=b"6CLR"), "for 6CLR"),
        (icc(size=16 * 2**20 + 1), "is over 16 MiB"),
    ],
)
def test_a_profile_of_another_class_is_an_error(load, data, told) -> None:
    ((key, said),) = faults(load, PROCESS + "icc: press.icc\n", data)
    assert key == "icc" and told in said and "the ICC profile press.icc, which" in said


@pytest.mark.parametrize(
    ("more", "key", "told"),
    [
        (PROCESS + "icc: other.icc\n", "icc", "which is not beside the profile"),
        (PROCESS + "icc: press.txt\n", "icc", "the name of an ICC file beside the profile"),
        (PROCESS + "icc: {intent: relative}\n", "icc", "such as {file: press.icc}"),
        (PROCESS + "icc: {file: press.txt}\n", "icc.file", "that ends in .icc or .icm"),
        (PROCESS + "icc: {file: gone.icm}\n", "icc.file", "which is not beside the profile"),
        (PROCESS + "icc: {file: press.icc, intent: nice}\n", "icc.intent", "relative, perceptual"),
        (PROCESS + "icc: {file: press.icc, intend: relative}\n", "icc.intend", "icc.intent"),
        ("icc: press.icc\n", "icc", "inks is off"),
        ("inks: auto 3\nicc: press.icc\n", "inks", "must be process where icc names"),
        (PROCESS + "separate: spot\nicc: press.icc\n", "separate", "must be auto where icc"),
        (PROCESS + "underbase: {ink: white}\nicc: press.icc\n", "underbase", "must be off"),
    ],
)
def test_what_is_wrong_is_told_at_its_key(load, more, key, told) -> None:
    found = dict(faults(load, more))
    assert told in found[key]
