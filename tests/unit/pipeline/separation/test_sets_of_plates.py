"""Whole sets of art that is separated already, and of process inks by an ICC profile."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
import tifffile
from icc_files import cmyk_profile
from PIL import Image

sys.path.insert(0, str(Path(__file__).parents[2] / "art"))

from art_in_layers import KINDS, bar
from separated_files import ink_tiff
from separated_pdf import ink_page

from filmhand.errors import EnvironmentTrouble, Reason, Refused
from filmhand.pipeline.make import make_films
from filmhand.profile.read.load import load_profile
from filmhand.request import JobRequest

PROFILE = """
sheet: 46 x 46 mm
dpi: 200
lpi: 20
dot: round
threshold: 50
mesh: none
margin: 2 mm
marks: {label: false, ruler: false, solid: false, register: false}
art: {fit: width 25.4 mm}
write: png
"""
RED_AND_BLUE = """inks:
  - {name: red, color: "#b3261e"}
  - {name: deep blue, color: "#1d3f9c"}
"""
SIDE = 200  # pixels of an inch


def made(
    tmp_path: Path, art: Path, more: str, *, profile: str = PROFILE
) -> dict[str, tuple[np.ndarray, dict]]:
    """Of each ink (H, W) bool of its film, True for ink, and the record."""
    (tmp_path / "p.yaml").write_text(profile + more)
    for folder in ("out", "scratch"):
        (tmp_path / folder).mkdir(exist_ok=True)
    request = JobRequest(
        art=art, name=art.name, profile=load_profile(tmp_path / "p.yaml"), out=tmp_path / "out",
        scratch=tmp_path / "scratch",
    )  # fmt: skip
    films = {}
    for film in make_films(request).films:
        (path,) = film.files.values()
        films[film.record["set"]["ink"]] = (~np.asarray(Image.open(path)), film.record)
    return films


def inch(tmp_path: Path) -> Path:
    """A square of an inch: red is solid in its left half, and blue a tint of 40 % on the right."""
    inks = np.zeros((SIDE, SIDE, 2), np.uint8)
    inks[:, : SIDE // 2, 0], inks[:, SIDE // 2 :, 1] = 255, 102
    return ink_tiff(tmp_path / "a.tif", inks, ("Red", "Deep Blue"))


def test_plates_become_films_with_their_areas(tmp_path) -> None:
    films = made(tmp_path, inch(tmp_path), RED_AND_BLUE)
    red, record = films["red"]
    assert list(films) == ["red", "deep blue"] and red.sum() == SIDE * SIDE // 2
    assert films["deep blue"][0].sum() == pytest.approx(0.4 * SIDE * SIDE / 2, rel=0.03)
    assert record["separation"]["mode"] == "spot" and record["separation"]["mean_de00"] < 1
    assert record["screen"] is None and films["deep blue"][1]["screen"]["lpi_asked"] == 20
    assert any("each film is the plate of its ink" in note for note in record["notes"])
    # Beside each other, as on the plates.
    assert not red[films["deep blue"][0]].any()


def test_inks_of_a_pdf_are_drawn_with_the_pixels_of_the_film(tmp_path) -> None:
    path = ink_page(
        tmp_path / "a.pdf",
        b"/R cs 1 scn 0 0 72 36 re f /B cs 1 scn 0 0 36 72 re f /O gs /R cs 1 scn 0 54 9 9 re f",
    )
    films = made(tmp_path, path, RED_AND_BLUE)
    square = (SIDE / 8) ** 2
    assert films["red"][0].sum() == pytest.approx(SIDE**2 / 4 + square, rel=0.005)
    assert films["deep blue"][0].sum() == pytest.approx(SIDE**2 / 2, rel=0.005)


def test_process_inks_of_the_art_are_kept(tmp_path) -> None:
    inks = np.zeros((SIDE, SIDE, 4), np.uint8)
    inks[: SIDE // 2, :, 1], inks[SIDE // 2 :, :, 3] = 128, 255
    Image.fromarray(inks, "CMYK").save(tmp_path / "a.tif")
    films = made(tmp_path, tmp_path / "a.tif", "inks: process\n")
    assert list(films) == ["magenta", "black"]
    assert films["magenta"][0].sum() == pytest.approx(0.5 * SIDE * SIDE / 2, rel=0.03)
    assert films["black"][0].sum() == SIDE * SIDE / 2
    assert films["black"][1]["separation"]["mode"] == "process"
    assert any(
        "Nothing of this art prints in cyan and yellow" in one for one in films["black"][1]["notes"]
    )


def test_a_total_that_is_asked_for_holds_for_plates_too(tmp_path) -> None:
    inks = np.full((SIDE, SIDE, 4), 255, np.uint8)
    Image.fromarray(inks, "CMYK").save(tmp_path / "a.tif")
    films = made(tmp_path, tmp_path / "a.tif", "inks: process\ntotal_ink: 200 %\n")
    total = sum(bits.sum() for bits, _ in films.values()) / SIDE**2
    assert total == pytest.approx(2, abs=0.05)


def test_an_underbase_is_made_of_the_plates(tmp_path) -> None:
    more = RED_AND_BLUE + "underbase: {ink: white, choke: 1 mm}\ncloth: '#000000'\n"
    films = made(tmp_path, inch(tmp_path), more)
    assert list(films) == ["white", "red", "deep blue"]
    white = films["white"][0]
    assert white.sum() < films["red"][0].sum() + films["deep blue"][0].sum()
    assert white[:, white.any(axis=0)].any(axis=1).sum() == pytest.approx(SIDE - 16, abs=2)


def test_an_underbase_that_comes_with_the_art_stays_as_it_is(tmp_path) -> None:
    inks = np.zeros((SIDE, SIDE, 2), np.uint8)
    inks[20:180, 20:180, 0], inks[40:160, 20:180, 1] = 255, 255
    art = ink_tiff(tmp_path / "a.tif", inks, ("white", "red"))
    more = (
        'inks: [{name: red, color: "#b3261e"}]\n'
        "underbase: {ink: White, choke: 1 mm}\ncloth: '#000000'\n"
    )
    films = made(tmp_path, art, more)
    assert films["White"][0].sum() == 160 * 160
    assert films["red"][0].sum() == 120 * 160


def test_pages_named_after_inks_are_one_set(tmp_path) -> None:
    with tifffile.TiffWriter(tmp_path / "a.tif") as writer:
        for place, name in enumerate(("Deep-Blue", "RED")):
            gray = np.full((SIDE, SIDE), 255, np.uint8)
            gray[:, place * 50 : place * 50 + 50] = 0
            writer.write(gray, photometric="minisblack", extratags=[(285, 2, None, name, True)])
    films = made(tmp_path, tmp_path / "a.tif", RED_AND_BLUE + "")
    assert list(films) == ["red", "deep blue"]
    assert [bits.sum() for bits, _ in films.values()] == [50 * SIDE, 50 * SIDE]
    assert films["red"][0].any(axis=0).argmax() > films["deep blue"][0].any(axis=0).argmax()


@pytest.mark.parametrize("name", KINDS)
def test_layers_named_after_inks_are_one_set(tmp_path, name) -> None:
    """A half of an inch of black and, over its right part, a tint of the other ink's own color."""
    bars = [bar("red", 0, 4), bar("Deep Blue", 3, 7, "#1d3f9c", 0.4)]
    cropped = RED_AND_BLUE + "art: {fit: width 25.4 mm, crop: {left: 12.5 %, right: 12.5 %}}\n"
    plain = PROFILE.replace("art: {fit: width 25.4 mm}\n", "")
    films = made(tmp_path, KINDS[name](tmp_path / name, bars), cropped, profile=plain)
    assert list(films) == ["red", "deep blue"]
    height = SIDE * 8 / 6  # six eighths of the inch, to an inch
    assert films["red"][0].sum() == pytest.approx(SIDE / 2 * height, rel=0.015)
    tint = films["deep blue"][0]
    assert tint.sum() == pytest.approx(0.4 * SIDE * 4 / 6 * height, rel=0.03)
    # Where both are they lie over each other: no layer knocks out another.
    assert (tint & films["red"][0]).any() and films["red"][1]["separation"]["mean_de00"] < 1


def test_plates_lie_as_the_film_is_mirrored(tmp_path) -> None:
    plain = made(tmp_path, inch(tmp_path), RED_AND_BLUE)["red"][0]
    other = made(tmp_path, inch(tmp_path), RED_AND_BLUE + "film: {mirror: true}\n")["red"][0]
    assert np.array_equal(other, plain[:, ::-1])


def test_a_plate_that_no_ink_is_called_like_leaves_no_film(tmp_path) -> None:
    with pytest.raises(Refused, match="like its plate Deep Blue") as caught:
        made(tmp_path, inch(tmp_path), 'inks: [{name: red, color: "#b3261e"}]\n')
    assert caught.value.reason is Reason.COLORS


def test_process_inks_by_an_icc_profile(tmp_path) -> None:
    (tmp_path / "press.icc").write_bytes(cmyk_profile())
    Image.new("RGB", (SIDE, SIDE), (255, 128, 128)).save(tmp_path / "a.png")
    films = made(tmp_path, tmp_path / "a.png", "inks: process\nicc: press.icc\n")
    # The profile of the test has one minus each code.
    assert "cyan" not in films and list(films)[:2] == ["magenta", "yellow"]
    for bits, record in (films["magenta"], films["yellow"]):
        assert bits.sum() / SIDE**2 == pytest.approx(0.5, abs=0.02)
        assert "Colors became inks by the ICC profile press.icc (relative)." in record["notes"]
    assert films["yellow"][1]["set"]["color"] == pytest.approx([89, -5, 93], abs=0.6)


def test_colors_that_the_press_of_an_icc_profile_cannot_print_are_told(tmp_path) -> None:
    (tmp_path / "press.icc").write_bytes(cmyk_profile())
    # A blue that no process inks print.
    art = np.full((SIDE, SIDE, 3), (120, 120, 120), np.uint8)
    art[:20] = (20, 20, 255)
    Image.fromarray(art).save(tmp_path / "a.png")
    more = "inks: process\nicc: press.icc\n"
    (told,) = {
        warning
        for _, record in made(tmp_path, tmp_path / "a.png", more).values()
        for warning in record["warnings"]
        if "cannot mix" in warning
    }
    assert "the colors of 10 % of the art" in told and "blue (#" in told
    assert "the nearest ink, black, is 35" in told
    art[:80] = (20, 255, 20)
    Image.fromarray(art).save(tmp_path / "a.png")
    with pytest.raises(Refused, match=r"Process inks cannot mix the colors of 40 %") as caught:
        made(tmp_path, tmp_path / "a.png", more)
    assert caught.value.reason is Reason.COLORS
    assert "inks: auto" in caught.value.do and "Add an ink" not in caught.value.do


def test_an_icc_profile_that_has_changed_or_is_broken_is_told(tmp_path) -> None:
    Image.new("RGB", (SIDE, SIDE), "red").save(tmp_path / "a.png")
    (tmp_path / "press.icc").write_bytes(cmyk_profile()[:128].ljust(len(cmyk_profile()), b"\0"))
    with pytest.raises(EnvironmentTrouble, match="cannot be followed"):
        made(tmp_path, tmp_path / "a.png", "inks: process\nicc: press.icc\n")
