from __future__ import annotations

import doctest
import hashlib
import os
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmhand.disk import file_names

RAW_NAMES = st.binary(min_size=1, max_size=255).filter(lambda b: b"/" not in b and b"\0" not in b)


def test_doctests() -> None:
    assert doctest.testmod(file_names).failed == 0


@given(RAW_NAMES)
def test_a_cleaned_stem_is_safe_everywhere(raw: bytes) -> None:
    stem = file_names.clean_stem(os.fsdecode(raw))
    assert stem
    assert len(stem.encode("utf-8")) <= file_names.STEM_BYTES + 9  # valid UTF-8, and short
    assert stem == unicodedata.normalize("NFC", stem)
    assert not set(stem) & set('<>:"/\\|?*')
    assert stem[0] not in ".-"
    assert stem == stem.strip()
    assert not any(unicodedata.category(c) in {"Cc", "Cs"} for c in stem)
    assert stem.upper() not in {"CON", "PRN", "AUX", "NUL", "COM1", "LPT9"}


@given(RAW_NAMES, st.integers(1, 10_000))
def test_a_numbered_name_fits_and_is_another_name(raw: bytes, count: int) -> None:
    name = os.fsdecode(raw)
    numbered = file_names.numbered(name, count, room=13)
    assert len(os.fsencode(numbered)) <= 255 - 13
    if count > 1:
        assert numbered != name
    elif len(raw) <= 255 - 13:
        assert numbered == name


@pytest.mark.parametrize(
    ("name", "stem"),
    [
        ("poster.JPG", "poster"),
        ("my poster (final) v1.2.png", "my poster (final) v1.2"),
        ("../../etc/passwd.png", "_.._etc_passwd"),
        ("-rf.png", "rf"),
        (".hidden.png", "hidden"),
        ("caf\u0065\u0301.png", "caf\u00e9"),  # decomposed becomes composed
        ("\u202egnp.exe.png", "_gnp.exe"),
        ("line\nbreak\x1b[31m.png", "line_break_[31m"),
        ("NUL.tar.gz", "NUL.tar_"),
        ("com1.png", "com1_"),
        ("???.png", "___"),
        (" .png", "art"),
        ("\U0001f469\u200d\U0001f3a8 \u2728.png", "\U0001f469\u200d\U0001f3a8 \u2728"),
        ("=1+1.png", "=1+1"),
        (os.fsdecode(b"caf\xe9.png"), "caf_"),
    ],
)
def test_cleaned_stems(name: str, stem: str) -> None:
    assert file_names.clean_stem(name) == stem


def test_long_names_keep_their_difference() -> None:
    one, two = (
        file_names.clean_stem("é" * 120 + "1.png"),
        file_names.clean_stem("é" * 120 + "2.png"),
    )
    assert one != two
    assert len(one.encode()) <= 129


@pytest.mark.parametrize(
    "name",
    [".DS_Store", "._poster.jpg", "~$poster.psd", "poster.jpg.part", "Thumbs.db", "THUMBS.DB",
     "poster.crdownload", "poster.jpg~", "x.TMP", "desktop.ini", ".poster.jpg.swp"],
)  # fmt: skip
def test_noise(name: str) -> None:
    assert file_names.is_noise(name)


@pytest.mark.parametrize("name", ["poster.jpg", "part.png", "thumbs.png", "_poster.jpg", "a~b.png"])
def test_art_is_not_noise(name: str) -> None:
    assert not file_names.is_noise(name)


def test_companions() -> None:
    assert file_names.companion_of("a b.png.Ticket.YAML") == ("a b.png", "ticket")
    for end in (".ticket.yml", ".ticket.txt", ".ticket.yaml.txt", ".Ticket.YML.txt"):
        assert file_names.companion_of("a.png" + end) == ("a.png", "ticket")
    assert file_names.companion_of("ticket.txt") is None
    assert file_names.companion_of("a.png.clear.png") == ("a.png", "mask")
    assert file_names.companion_of(".ticket.yaml") is None
    assert file_names.companion_of("clear.png") is None


def test_shown_names_hold_no_controls() -> None:
    shown = file_names.shown(os.fsdecode(b"a\xff\x1b[2J") + "\u202e\n")
    assert shown.isprintable()
    shown.encode("utf-8")


def test_names_that_a_file_system_may_hold_to_be_one() -> None:
    assert file_names.compared("CAFE\u0301") == file_names.compared("caf\u00e9")
    assert file_names.compared("a") != file_names.compared("b")


def test_stems_up_to_120_bytes_stay_and_longer_ones_get_a_mark() -> None:
    name = "x" * 120 + ".png"
    assert file_names.clean_stem(name) == "x" * 120
    long = "x" * 121 + ".png"
    mark = hashlib.sha256(long.encode()).hexdigest()[:8]
    assert file_names.clean_stem(long) == "x" * 120 + "-" + mark
    assert file_names.clean_stem("x" * 119 + ". y.png").startswith("x" * 119 + "-")


@pytest.mark.parametrize(
    ("length", "count", "room", "kept"),
    [(251, 1, 0, 251), (252, 1, 0, 251), (251, 2, 0, 249), (240, 12, 12, 236), (3, 2, 255, 0)],
)
def test_names_are_cut_to_255_bytes_before_their_suffix(
    length: int, count: int, room: int, kept: int
) -> None:
    end = ".png" if count == 1 else f"-{count}.png"
    assert file_names.numbered("x" * length + ".png", count, room=room) == "x" * kept + end


def test_a_few_numbers_are_tried_in_turn_and_then_steps_that_double() -> None:
    asked: list[int] = []

    def free(number: int) -> bool:
        asked.append(number)
        return number > 20

    assert file_names.first_free(free) == 21
    assert asked == [*range(1, 9), 16, 32, 24, 20, 22, 21]
