"""Plates of PDF pages whose areas are known from their drawing."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pikepdf
import pytest
from separated_files import LIMITS
from separated_pdf import SIDE, ink_page, own_pixels

from filmhand.art.files import extras
from filmhand.art.plates.find_plates import names_of_pages, plate_names, plates_of_art
from filmhand.errors import Refused

BOTTOM = b"0 0 72 36 re f "  # the lower half of the page


def plates(path: Path):
    return plates_of_art(path, name="a.pdf", limits=LIMITS, sizing=own_pixels)


def areas(tmp_path: Path, content: bytes) -> dict[str, float]:
    """The mean tone of each plate, of those that have any, 0..1."""
    found = plates(ink_page(tmp_path / "a.pdf", content))
    assert found.tones.shape[1:] == (SIDE, SIDE)
    means = found.tones.mean(axis=(1, 2)) / 65535
    return {name: mean for name, mean in zip(found.names, means, strict=True) if mean}


@pytest.mark.parametrize(
    ("content", "wanted"),
    [
        (b"/R cs 1 scn " + BOTTOM, {"Red": 0.5}),
        (b"/R CS 1 SCN 36 w 0 18 m 72 18 l S", {"Red": 0.5}),
        (b"/R cs 0.2 scn " + BOTTOM, {"Red": 0.1}),
        (b"/N cs 0.2 1 scn " + BOTTOM, {"Red": 0.1, "Deep Blue": 0.5}),
        (b"/All cs 1 scn 0 0 36 36 re f /R cs 1 scn 36 0 36 36 re f", {"Red": 0.5}),
        (b"0.2 0 0 1 k " + BOTTOM, {"Cyan": 0.1, "Black": 0.5}),
        (b"/DeviceCMYK cs " + BOTTOM, {"Black": 0.5}),
        (b"/R cs 1 scn 0 36 72 36 re f 0.2 g " + BOTTOM, {"Red": 0.5, "Black": 0.4}),
        (b"/R cs 1 scn " + BOTTOM + b"/DeviceGray cs 0.2 scn 0 36 72 36 re f",
         {"Red": 0.5, "Black": 0.4}),
        (b"/R cs " + BOTTOM, {"Red": 0.5}),
        (BOTTOM + b"/R cs 1 scn 0 36 72 36 re f", {"Red": 0.5, "Black": 0.5}),
    ],
)  # fmt: skip
def test_an_ink_is_on_its_plate_and_on_no_other(tmp_path, content, wanted) -> None:
    found = areas(tmp_path, content)
    assert {name: found.get(name, 0) for name in wanted} == pytest.approx(wanted, abs=0.002)
    assert set(found) <= set(wanted) | ({"Black"} if b"/All" in content else set())


BLUE_ON_RED = b"/R cs 1 scn " + BOTTOM + b"%b /B cs 1 scn 0 0 36 36 re %b"


@pytest.mark.parametrize(
    ("content", "red"),
    [
        (BLUE_ON_RED % (b"/X gs", b"f"), 0.25),
        (BLUE_ON_RED % (b"/O gs", b"f"), 0.5),
        (BLUE_ON_RED % (b"/O gs", b"b*"), 0.5),
        (BLUE_ON_RED % (b"q /O gs Q", b"f"), 0.25),
        # Where it overprints, an ink still takes the place of what it has of itself.
        (b"/R cs 1 scn " + BOTTOM + b"/O gs /R cs 0.5 scn 0 0 72 36 re f", 0.25),
        (b"/R cs 1 scn " + BOTTOM + b"/O gs 1 0 0 0 k 0 0 72 72 re f", 0.5),
        (b"/R cs 1 scn " + BOTTOM + b"0 0 0 0 k 0 0 72 18 re f", 0.25),
        (b"/R cs 1 scn " + BOTTOM + b"/O gs q 36 0 0 36 0 0 cm /G Do Q", 0.5),
        (b"/R cs 1 scn " + BOTTOM + b"q 36 0 0 36 0 0 cm /G Do Q", 0.25),
    ],
)
def test_inks_knock_out_what_is_below_unless_they_overprint(tmp_path, content, red) -> None:
    assert areas(tmp_path, content)["Red"] == pytest.approx(red, abs=0.002)


def test_process_inks_that_are_not_there_leave_their_plates_in_overprint_mode_one(tmp_path) -> None:
    content = b"0 0 1 0 k " + BOTTOM + b"/O gs 1 0 0 0 k " + BOTTOM
    assert areas(tmp_path, content) == pytest.approx({"Cyan": 0.5, "Yellow": 0.5}, abs=0.002)


def test_forms_pictures_and_patterns_are_gone_through(tmp_path) -> None:
    content = (
        b"/B cs 1 scn 0 64 72 8 re f q 1 0 0 1 8 8 cm /F Do Q /Pattern cs /T scn 0 32 32 32 re f"
    )
    found = areas(tmp_path, content)
    square = 1 / 72**2
    ramp = np.arange(64).mean() * 4 / 255
    assert found["Red"] == pytest.approx((512 + 64 * ramp) * square, abs=0.001)
    assert found["Deep Blue"] == pytest.approx((576 + 144 - 4) * square, abs=0.001)
    assert found["Yellow"] == pytest.approx(4 * square, abs=0.0005)


def test_a_picture_within_the_content_is_one_in_inks(tmp_path) -> None:
    content = (
        b"/R cs 1 scn " + BOTTOM + b"q 72 0 0 36 0 36 cm BI /W 2 /H 1 /BPC 8 /CS /CMYK ID "
        b"\x00\x00\x00\xff\xff\x00\x00\x00 EI Q"
    )
    wanted = {"Red": 0.5, "Cyan": 0.25, "Black": 0.25}
    assert areas(tmp_path, content) == pytest.approx(wanted, abs=0.002)


@pytest.mark.parametrize(
    ("color", "others"),
    [(b"1 0 0 rg", True), (b"1 1 1 rg", False), (b"/DeviceRGB cs 0 0 1 scn", True)],
)
def test_colors_of_light_are_told(tmp_path, color, others) -> None:
    path = ink_page(tmp_path / "a.pdf", b"/R cs 1 scn " + BOTTOM + color + b" 0 40 9 9 re f")
    assert plates(path).other_colors is others


@pytest.mark.parametrize("content", [b"1 0 0 rg " + BOTTOM, b"0.5 g " + BOTTOM, b""])
def test_a_page_without_inks_has_no_plates(tmp_path, content) -> None:
    path = ink_page(tmp_path / "a.pdf", content)
    assert plate_names(path, name="a.pdf", limits=LIMITS) == () and plates(path) is None


def test_colors_that_are_not_understood_are_no_plates(tmp_path) -> None:
    path = ink_page(tmp_path / "a.pdf", b"/R cs 1 scn " + BOTTOM)
    with pikepdf.open(path, allow_overwriting_input=True) as document:
        document.pages[0].Resources.ColorSpace.R = pikepdf.Array([pikepdf.Name.Nothing])
        document.save(path)
    assert plate_names(path, name="a.pdf", limits=LIMITS) is None and plates(path) is None


def test_labels_of_pages_are_their_names(tmp_path) -> None:
    document = pikepdf.new()
    for _ in range(2):
        document.add_blank_page(page_size=(72, 72))
    labels = [pikepdf.Dictionary(P="red"), pikepdf.Dictionary(P="blue")]
    numbered = pikepdf.Array([0, labels[0], 1, labels[1]])
    document.Root.PageLabels = pikepdf.Dictionary(Nums=numbered)
    document.save(tmp_path / "a.pdf")
    assert names_of_pages(tmp_path / "a.pdf", name="a.pdf", limits=LIMITS) == ("red", "blue")


def test_without_the_library_the_addition_is_named(tmp_path, monkeypatch) -> None:
    path = ink_page(tmp_path / "a.pdf", b"/R cs 1 scn " + BOTTOM)
    real = extras.importlib.import_module

    def without(name: str):
        if name == "pikepdf":
            raise ImportError
        return real(name)

    monkeypatch.setattr(extras.importlib, "import_module", without)
    with pytest.raises(Refused, match="a PDF document whose colors may be inks") as caught:
        plates(path)
    assert "filmhand[art]" in caught.value.do
