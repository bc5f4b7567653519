"""Plates of art by the inks of a set: which are taken, and what is said of the others."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
import tifffile
from PIL import Image

sys.path.insert(0, str(Path(__file__).parents[3] / "art"))

from separated_files import LIMITS, ink_tiff, layered_file
from separated_pdf import ink_page, own_pixels

from filmhand.errors import Reason, Refused
from filmhand.pipeline.separation.plates import own_plates
from filmhand.pipeline.separation.plates.own_plates import OwnPlates, pages_for, plates_for

FULL = 65535


def own(path: Path, *names: str):
    inks = dict.fromkeys(names, np.zeros(3))
    return plates_for(path, name=path.name, limits=LIMITS, inks=inks)


def two_inks(path: Path, names: tuple[str, ...] = ("RED", "Dark_Blue")) -> Path:
    inks = np.zeros((30, 40, 2), np.uint8)
    inks[:10, :, 0], inks[20:, :, 1] = 255, 255
    return ink_tiff(path, inks, names)


def test_plates_are_found_by_the_names_of_inks_whatever_their_case(tmp_path) -> None:
    found, told = own(two_inks(tmp_path / "a.tif"), "dark blue", "red", "white")
    assert list(found.tones) == ["red", "dark blue"] and not told and found.drawn
    assert [tone[:, 0].tolist().count(FULL) for tone in found.of(["dark blue", "red"])] == [10, 10]
    assert not found.of(["white"])[0].any() and found.of(["white"])[0].shape == (30, 40)
    assert found.notes == [
        "The art is separated already, so each film is the plate of its ink: red and dark blue."
    ]


def test_plates_that_are_called_otherwise_are_told_and_left_aside(tmp_path) -> None:
    found, told = own(two_inks(tmp_path / "a.tif"), "cyan", "gold")
    assert found is None
    assert told == [
        "The art has plates of its own (RED and Dark_Blue), but no ink of the set is called like "
        "one of them; its colors were separated."
    ]


def test_a_plate_without_an_ink_is_refused_where_it_prints(tmp_path) -> None:
    with pytest.raises(Refused) as caught:
        own(two_inks(tmp_path / "a.tif"), "red", "gold")
    assert caught.value.reason is Reason.COLORS
    assert "no ink of the set is called like its plate Dark_Blue" in caught.value.say
    blank = ink_tiff(tmp_path / "b.tif", np.zeros((9, 9, 2), np.uint8), ("red", "unused"))
    assert list(own(blank, "red", "gold")[0].tones) == ["red"]


def test_art_in_process_inks_may_be_meant_for_other_inks(tmp_path) -> None:
    inks = np.zeros((30, 40, 4), np.uint8)
    inks[:10, :, 1:3], inks[20:, :, 3] = 255, 255
    Image.fromarray(inks, "CMYK").save(tmp_path / "a.tif")
    found, told = own(tmp_path / "a.tif", "red", "black")
    assert found is None
    assert told == [
        "The art is in process inks, and no ink of the set is called like its plate Magenta, so "
        "its colors were separated."
    ]
    assert list(own(tmp_path / "a.tif", "black", "magenta", "yellow")[0].tones) == [
        "magenta", "yellow", "black",
    ]  # fmt: skip


def test_colors_beside_process_inks_are_separated_with_them(tmp_path) -> None:
    path = ink_page(tmp_path / "a.pdf", b"0 0 0 1 k 0 0 9 9 re f 1 0 0 rg 20 0 9 9 re f")
    inks = dict.fromkeys(("cyan", "magenta", "yellow", "black"), np.zeros(3))
    assert plates_for(path, name="a.pdf", limits=LIMITS, inks=inks, sizing=own_pixels) == (
        None,
        ["The art has colors besides its process inks, so all its colors were separated together."],
    )


def test_plates_that_no_ink_is_called_like_are_not_read(tmp_path, monkeypatch) -> None:
    monkeypatch.setattr(own_plates, "plates_of_art", pytest.fail)
    assert own(two_inks(tmp_path / "a.tif"), "gold")[0] is None


def test_colors_beside_the_plates_are_refused(tmp_path) -> None:
    planes = np.full((4, 9, 9), 255, np.uint8)
    planes[0, 2, 2] = planes[3, 4, 4] = 0
    path = layered_file(tmp_path / "a.psd", planes, mode=3, names=("Gold",))
    with pytest.raises(
        Refused, match=r"has colors besides that are on none of its plates \(Gold\)"
    ):
        own(path, "gold", "black")


def test_a_document_whose_colors_are_not_understood_is_told_of(tmp_path, monkeypatch) -> None:
    monkeypatch.setattr(own_plates, "plate_names", lambda *_, **__: None)
    Image.new("RGB", (9, 9), "red").save(tmp_path / "a.png")
    found, (told,) = own(tmp_path / "a.png", "red")
    assert found is None and "could not be told which inks" in told


def test_art_without_plates_is_not_spoken_of(tmp_path) -> None:
    Image.new("RGB", (9, 9), "red").save(tmp_path / "a.png")
    assert own(tmp_path / "a.png", "red", "blue") == (None, [])


def named_pages(path: Path, *pages: tuple[str, int]) -> Path:
    with tifffile.TiffWriter(path) as writer:
        for row, (label, height) in enumerate(pages):
            gray = np.full((height, 20), 255, np.uint8)
            gray[row] = 0
            tags = [(285, 2, None, label, True)]
            writer.write(gray, photometric="minisblack", extratags=tags)
    return path


def test_pages_that_are_named_after_inks_are_plates_of_one_picture(tmp_path) -> None:
    path = named_pages(tmp_path / "a.tif", ("Blue", 10), ("red", 10))
    assert pages_for(path, name="a.tif", limits=LIMITS, inks=("red", "blue")) == (0, 1)
    found, _ = own(path, "red", "blue")
    assert found.tones["blue"][0].min() == FULL and found.tones["red"][1].min() == FULL
    assert "Pages of the art are named after inks" in found.notes[-1]


@pytest.mark.parametrize(
    ("pages", "inks"),
    [
        ((("red", 9),), ("red", "blue")),
        ((("red", 9), ("cover", 9)), ("red", "blue")),
        ((("red", 9), ("red", 9)), ("red", "blue")),
        ((("red", 9), ("blue", 9)), ("gold",)),
    ],
)
def test_other_pages_are_pages(tmp_path, pages, inks) -> None:
    path = named_pages(tmp_path / "a.tif", *pages)
    assert pages_for(path, name="a.tif", limits=LIMITS, inks=inks) == ()


def test_pages_that_were_chosen_are_no_plates(tmp_path) -> None:
    path = named_pages(tmp_path / "a.tif", ("blue", 10), ("red", 10))
    inks = ("red", "blue")
    chosen = plates_for(path, name="a.tif", limits=LIMITS, inks=inks, by_pages=False)
    assert chosen == (None, [])


def test_pages_of_several_sizes_are_refused(tmp_path) -> None:
    path = named_pages(tmp_path / "a.tif", ("blue", 10), ("red", 11))
    with pytest.raises(Refused, match=r"\(blue and red\), but they are not of one size"):
        own(path, "red", "blue")


def plates(**tones: list[int]) -> OwnPlates:
    return OwnPlates({name: np.array([row], np.uint16) for name, row in tones.items()}, True, [])


def test_an_underbase_without_a_plate_has_what_any_prints() -> None:
    found = plates(red=[0, FULL, 9], blue=[5, 0, 10])
    found.with_underbase("white")
    assert found.tones["white"].tolist() == [[5, FULL, 10]] and len(found.notes) == 1
    found.with_underbase("red")
    assert len(found.notes) == 1


def test_the_total_of_a_place_is_kept() -> None:
    found = plates(a=[FULL, FULL, 0], b=[FULL, 0, 9])
    found.cut_to_total(1.5)
    assert found.tones["a"].tolist() == [[49151, FULL, 0]] and found.tones["b"][0, 0] == 49151
    assert found.notes == [
        "Where its plates have more ink together than 150 % they were made lighter."
    ]
    found.cut_to_total(1.5)
    assert len(found.notes) == 1
