"""Art that is separated already: its plates by name, and what it is as one gray picture."""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pytest
import tifffile
from PIL import Image
from psd_tools import PSDImage
from separated_files import LIMITS, ink_tiff, layered_file
from separated_pdf import ink_page

from filmhand.art.files.open_art import open_art
from filmhand.art.formats import codecs
from filmhand.art.formats.codecs import inks_as_gray, planes_of_inks
from filmhand.art.plates.art_plates import plate_key
from filmhand.art.plates.find_plates import (
    names_of_pages,
    plate_names,
    plates_of_art,
    plates_of_pages,
)
from filmhand.errors import Refused
from filmhand.profile.terms import Channel

RAMP = np.arange(12, dtype=np.uint8).reshape(3, 4) * 20
SELECTION, SPOT = 0, 2
GRAY, RGB, CMYK, SPOTS = 1, 3, 4, 7


def plates(path: Path, page: int = 0):
    return plates_of_art(path, name=path.name, limits=LIMITS, page=page)


def gray(path: Path):
    return open_art(path, name=path.name, limits=LIMITS, channel=Channel.LUMINANCE)


def solid_and_tint() -> np.ndarray:
    inks = np.zeros((4, 5, 2), np.uint8)
    inks[:2, :, 0], inks[1:, 2:, 1] = 255, 128
    return inks


def test_inks_of_a_tiff_are_its_plates(tmp_path) -> None:
    inks = solid_and_tint()
    path = ink_tiff(tmp_path / "a.tif", inks, ("Red", "deep blue"))
    assert plate_names(path, name="a.tif", limits=LIMITS) == ("Red", "deep blue")
    found = plates(path)
    assert found.names == ("Red", "deep blue") and not found.other_colors
    assert found.tones.tolist() == (np.moveaxis(inks, -1, 0).astype(int) * 257).tolist()


def test_a_gray_film_of_inks_has_what_any_prints(tmp_path) -> None:
    art = gray(ink_tiff(tmp_path / "a.tif", solid_and_tint(), ("Red", "deep blue")))
    bare = 65535 - 128 * 257
    assert art.coded.tolist() == [[0] * 5, [0] * 5, *[[65535] * 2 + [bare] * 3] * 2]
    assert art.notes == [
        "Each ink of the file was taken as black: the film has whatever any of them prints."
    ]


def test_four_inks_that_are_no_process_inks_are_not_mixed_as_such(tmp_path) -> None:
    inks = np.zeros((3, 4, 4), np.uint8)
    inks[0, :, 2] = 255  # a solid that yellow, nearly white, would be
    path = ink_tiff(tmp_path / "a.tif", inks, ("a", "b", "c", "d"))
    assert gray(path).coded[0].tolist() == [0] * 4


def test_inks_of_any_number_of_bits_are_the_same_in_strips(monkeypatch) -> None:
    pixels = np.arange(5 * 4 * 2, dtype=np.uint16).reshape(5, 4, 2) * 110
    planes = np.rint(np.minimum(np.moveaxis(pixels, -1, 0) / 4095, 1) * 65535)
    bare = np.rint((1 - planes[0] / 65535) * (1 - planes[1] / 65535) * 65535)
    monkeypatch.setattr(codecs, "_STRIP_PIXELS", 8)
    assert planes_of_inks(pixels, 12).tolist() == planes.tolist()
    assert inks_as_gray(planes_of_inks(pixels, 12)).tolist() == bare.tolist()


def test_inks_without_names_are_no_plates(tmp_path) -> None:
    path = ink_tiff(tmp_path / "a.tif", solid_and_tint(), ())
    assert plate_names(path, name="a.tif", limits=LIMITS) == () and plates(path) is None


@pytest.mark.parametrize("suffix", ["tif", "jpg"])
def test_process_inks_are_plates(tmp_path, suffix) -> None:
    inks = np.zeros((16, 16, 4), np.uint8)
    inks[:8, :, 1], inks[8:, :, 3] = 255, 51
    path = tmp_path / f"a.{suffix}"
    Image.fromarray(inks, "CMYK").save(path, **({"quality": 100} if suffix == "jpg" else {}))
    found = plates(path)
    assert found.names == ("Cyan", "Magenta", "Yellow", "Black")
    wanted = np.moveaxis(inks, -1, 0).astype(int) * 257
    assert np.abs(found.tones - wanted).max() <= (3 * 257 if suffix == "jpg" else 0)


@pytest.mark.parametrize("ink_set", [1, 2])
def test_process_inks_may_be_told_by_their_names(tmp_path, ink_set) -> None:
    inks = np.zeros((4, 5, 4), np.uint8)
    inks[:2, :, 0], inks[2:, :, 2] = 255, 128
    names = ("Cyan", "Magenta", "Yellow", "Black")
    found = plates(ink_tiff(tmp_path / "a.tif", inks, names, ink_set=ink_set))
    assert found.names == names
    assert found.tones.tolist() == (np.moveaxis(inks, -1, 0).astype(int) * 257).tolist()


def test_inks_beside_process_inks_are_plates_too(tmp_path) -> None:
    inks = np.zeros((3, 4, 5), np.uint8)
    inks[..., 4], inks[1, :, 0] = RAMP, 255
    names = ("Cyan", "Magenta", "Yellow", "Black", "Gold")
    found = plates(ink_tiff(tmp_path / "a.tif", inks, names))
    assert found.names == names and found.tones[4].tolist() == (RAMP.astype(int) * 257).tolist()


def test_pages_with_names(tmp_path) -> None:
    path = tmp_path / "a.tif"
    with tifffile.TiffWriter(path) as writer:
        for name, value in (("Red", 0), ("blue", 255), (None, 9)):
            tags = [] if name is None else [(285, 2, None, name, True)]
            writer.write(np.full((4, 5), value, np.uint8), photometric="minisblack", extratags=tags)
    assert names_of_pages(path, name="a.tif", limits=LIMITS) == ("Red", "blue", "")
    found = plates_of_pages(path, name="a.tif", limits=LIMITS, pages=(1, 0))
    assert found.names == ("blue", "Red")
    assert found.tones[:, 0, 0].tolist() == [0, 65535]


def test_pages_of_other_sizes_are_not_one_picture(tmp_path) -> None:
    path = tmp_path / "a.tif"
    with tifffile.TiffWriter(path) as writer:
        for height in (4, 5):
            writer.write(np.zeros((height, 5), np.uint8), photometric="minisblack")
    with pytest.raises(ValueError, match="one size"):
        plates_of_pages(path, name="a.tif", limits=LIMITS, pages=(0, 1))


def test_channels_of_a_layered_file_that_are_inks(tmp_path) -> None:
    white = np.full((3, 3, 4), 255, np.uint8)
    planes = np.concatenate([white, np.full((1, 3, 4), 7, np.uint8), [255 - RAMP]])
    path = layered_file(
        tmp_path / "a.psd", planes, mode=RGB, names=("Alpha 1", "White ink"),
        kinds=(SELECTION, SPOT),
    )  # fmt: skip
    # Another library reads the same names and kinds.
    told = PSDImage.open(path).image_resources
    assert [name.rstrip("\0") for name in told.get_data(1045)] == ["Alpha 1", "White ink"]
    assert [int(one.mode) for one in told.get_data(1077).alpha_channels] == [SELECTION, SPOT]
    found = plates(path)
    assert found.names == ("White ink",) and not found.other_colors
    assert found.tones[0].tolist() == (RAMP.astype(int) * 257).tolist()


def test_colors_beside_the_plates_are_told(tmp_path) -> None:
    planes = np.full((4, 3, 4), 255, np.uint8)
    planes[1, 0, 0] = 254
    path = layered_file(tmp_path / "a.psd", planes, mode=RGB, names=("Gold",), kinds=(SPOT,))
    assert plates(path).other_colors


def test_a_layered_file_of_inks_alone(tmp_path) -> None:
    planes = np.stack([255 - RAMP, np.full((3, 4), 255, np.uint8)])
    path = layered_file(tmp_path / "a.psd", planes, mode=SPOTS, names=("Red", "Gold"))
    found = plates(path)
    assert found.names == ("Red", "Gold")
    assert found.tones[0].tolist() == (RAMP.astype(int) * 257).tolist() and not found.tones[1].any()
    assert gray(path).coded.tolist() == (65535 - RAMP.astype(int) * 257).tolist()


def test_process_inks_of_a_layered_file_and_one_more(tmp_path) -> None:
    planes = np.full((5, 3, 4), 255, np.uint8)
    planes[3], planes[4] = 0, 255 - RAMP
    found = plates(layered_file(tmp_path / "a.psd", planes, mode=CMYK, names=("Gold",)))
    assert found.names == ("Cyan", "Magenta", "Yellow", "Black", "Gold")
    assert (found.tones[3] == 65535).all()
    assert found.tones[4].tolist() == (RAMP.astype(int) * 257).tolist()


def test_a_gray_picture_has_no_plates(tmp_path) -> None:
    Image.new("L", (4, 4)).save(tmp_path / "a.png")
    assert plates(tmp_path / "a.png") is None
    assert names_of_pages(tmp_path / "a.png", name="a.png", limits=LIMITS) == ("",)


def test_names_are_compared_without_case_and_joints() -> None:
    assert plate_key(" Dark_Red ") == plate_key("dark-red") == plate_key("DARK   red")
    assert plate_key("red") != plate_key("reds")


def spoiled(data: bytes, chance: np.random.Generator) -> bytes:
    """The same with a few bytes changed, or cut short."""
    changed = bytearray(data)
    for place in chance.integers(0, len(data), 4):
        changed[place] = chance.integers(0, 256)
    return bytes(changed[: chance.integers(len(data) // 2, len(data) + 1)])


@pytest.mark.parametrize("kind", ["tif", "psd", "pdf"])
def test_spoiled_files_are_refused_or_read(tmp_path, kind) -> None:
    if kind == "tif":
        data = ink_tiff(tmp_path / "a.tif", solid_and_tint(), ("Red", "Blue")).read_bytes()
    elif kind == "psd":
        planes = np.full((5, 3, 4), 255, np.uint8)
        made = layered_file(tmp_path / "a.psd", planes, mode=3, names=("Red", "Blue"), kinds=(2, 2))
        data = made.read_bytes()
    else:
        data = ink_page(tmp_path / "a.pdf", b"/R cs 1 scn 0 0 9 9 re f /I Do /F Do").read_bytes()
    chance = np.random.default_rng(7)
    path = tmp_path / f"spoiled.{kind}"
    for _ in range(60 if kind != "pdf" else 25):
        path.write_bytes(spoiled(data, chance))
        try:
            found = plates(path)
        except Refused:
            continue
        assert found is None or len(found.names) == len(found.tones)


def test_texts_beyond_the_end_of_a_file_are_none(tmp_path) -> None:
    path = ink_tiff(tmp_path / "a.tif", solid_and_tint(), ("Red", "Blue"))
    data = path.read_bytes()
    at = data.rindex(struct.pack("<HHI", 333, 2, 9))
    path.write_bytes(data[: at + 8] + struct.pack("<I", 2**32 - 1) + data[at + 12 :])
    assert plate_names(path, name="a.tif", limits=LIMITS) == ()
