"""Names at their longest, and the names that filmhand gives by itself."""

from __future__ import annotations

import hashlib
import os

import pytest

from filmhand.disk import file_names


def test_a_stem_of_120_bytes_is_kept_and_a_longer_one_is_cut_there() -> None:
    assert file_names.clean_stem("a" * 120 + ".png") == "a" * 120
    name = "a" * 121 + ".png"
    mark = hashlib.sha256(name.encode()).hexdigest()[:8]
    assert file_names.clean_stem(name) == "a" * 120 + "-" + mark
    assert file_names.clean_stem("a" * 118 + ". bcd.png").startswith("a" * 118 + "-")


def test_a_numbered_name_is_as_long_as_fits() -> None:
    """255 bytes are the longest name of the usual file systems (NAME_MAX, limits.h)."""
    assert file_names.numbered("a" * 300 + ".png", 1) == "a" * 251 + ".png"
    assert file_names.numbered("a" * 300 + ".png", 12, room=13) == "a" * 235 + "-12.png"
    assert file_names.cut("\u00e9" * 5, 5) == "\u00e9\u00e9"
    assert file_names.cut("abc", 3) == "abc"


@pytest.mark.parametrize(
    ("name", "log"),
    [
        ("rejections.jsonl", True),
        ("Rejections.2026-03.jsonl", True),
        ("rejections.png", False),
        ("my rejections.jsonl", False),
    ],
)
def test_names_of_refusal_logs(name: str, log: bool) -> None:
    assert file_names.is_refusal_log(name) is log


def test_a_companions_name_is_read_back() -> None:
    for kind in ("ticket", "mask"):
        name = file_names.companion_name("a b.png", kind)
        assert file_names.companion_of(name) == ("a b.png", kind)


@pytest.mark.parametrize(
    ("name", "parts"),
    [
        (".png", (".png", "")),
        ("a.", ("a.", "")),
        ("a.p", ("a", ".p")),
        ("a.jpeg2", ("a", ".jpeg2")),
        ("a.abcdef", ("a.abcdef", "")),
        ("a.12", ("a.12", "")),
        ("a.3ds", ("a", ".3ds")),
    ],
)
def test_what_a_suffix_is(name: str, parts: tuple[str, str]) -> None:
    assert file_names.split_suffix(name) == parts


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("plain \u00e9.png", "plain \u00e9.png"),
        ("line\nbreak", "line\ufffdbreak"),
        ("bell\x07", "bell\ufffd"),
        ("caf\u00e9\u2028", "caf\u00e9\ufffd"),
        ("\u202egnp", "\ufffdgnp"),
        ("\U0001f469\u200d\U0001f3a8", "\U0001f469\u200d\U0001f3a8"),  # a joiner deceives nobody
        (os.fsdecode(b"\xff"), "\ufffd"),
    ],
)
def test_names_as_people_see_them(name: str, shown: str) -> None:
    assert file_names.shown(name) == shown


@pytest.mark.parametrize("one", ["ABC", "\u00c9", "Stra\u00dfe"])
def test_names_that_differ_in_case_alone_are_compared_as_one(one: str) -> None:
    assert file_names.compared(one) == file_names.compared(one.lower())
    assert file_names.compared(one) == file_names.compared(one.upper())
