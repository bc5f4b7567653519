"""Layers that are named after inks as the plates of these inks."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
import tifffile

sys.path.insert(0, str(Path(__file__).parents[3] / "art"))

from art_in_layers import KINDS, SIDE, as_layered, as_pdf, as_svg, bar
from separated_files import LIMITS
from separated_pdf import ink_page

from filmhand.art.drawings.vector import FilmSize
from filmhand.errors import Reason, Refused
from filmhand.ink.cielab import srgb_to_lab
from filmhand.pipeline.separation.plates.own_plates import plates_for

FULL = 65535
INKS = {"red": "#b3261e", "deep blue": "#1d3f9c", "white": "#fafafa"}


def own(path, inks=INKS):
    colors = {
        name: srgb_to_lab(np.array(list(bytes.fromhex(code[1:]))) / 255)
        for name, code in inks.items()
    }

    def size(_width, _height):
        return FilmSize(SIDE, SIDE, float(SIDE))

    return plates_for(path, name=path.name, limits=LIMITS, inks=colors, sizing=size)


def eighths(tone):
    """The tone in the middle of each eighth of the inch, percent."""
    row = tone[SIDE // 2, SIDE // 16 :: SIDE // 8]
    return np.rint(row / FULL * 100).astype(int).tolist()


@pytest.fixture(params=KINDS)
def art(request, tmp_path):
    return lambda *bars: KINDS[request.param](tmp_path / request.param, list(bars))


def test_darkness_times_opacity_is_the_tone_of_the_ink(art) -> None:
    path = art(
        bar("Red", 0, 4), bar("DEEP_BLUE", 2, 6, "#000000", 0.4), bar("sketch", 6, 8, visible=False)
    )
    found, told = own(path)
    assert list(found.tones) == ["red", "deep blue"] and not told
    assert eighths(found.tones["red"]) == [100] * 4 + [0] * 4
    assert eighths(found.tones["deep blue"]) == [0, 0, 40, 40, 40, 40, 0, 0]
    assert found.drawn and found.shape == (SIDE, SIDE)
    assert found.notes == [
        "Layers of the art that are invisible or bare were not taken: sketch.",
        "Layers of the art are named after inks, so each is the plate of its ink: red and deep "
        "blue. Black, or the ink's own color, is a solid there.",
    ]


def test_the_color_of_its_ink_is_a_solid(art) -> None:
    path = art(bar("red", 0, 4, "#b3261e"), bar("white", 4, 8, "#ffffff", 0.6))
    found, _ = own(path)
    assert eighths(found.tones["red"]) == [100] * 4 + [0] * 4
    assert eighths(found.tones["white"]) == [0] * 4 + [60] * 4


def test_another_color_prints_as_dark_as_it_is_and_is_told(art) -> None:
    found, _ = own(art(bar("red", 0, 4, "#107030"), bar("deep blue", 4, 8, "#808080")))
    green, gray = eighths(found.tones["red"])[0], eighths(found.tones["deep blue"])[7]
    assert gray == 50 and 55 < green < 75
    (said,) = (note for note in found.notes if "of its ink there" in note)
    assert said.startswith("The layer red has dark green (#107030), which is neither black, gray")
    assert f"prints {green} % of its ink there" in said


def test_the_color_of_its_ink_its_tints_and_its_shades_are_ink_beside_black(art) -> None:
    # Red, half of it on white, half of it with black, black, half of that, and a half that is clear
    colors = ["#b3261e", "#d9938f", "#59130f", "#000000", "#808080"]
    bars = [bar("red", place, place + 1, color) for place, color in enumerate(colors)]
    path = art(*bars, bar("RED", 5, 6, "#b3261e", 0.5), bar("deep blue", 6, 8, "#1d3f9c"))
    found, _ = own(path)
    assert eighths(found.tones["red"]) == [100, 50, 100, 100, 50, 50, 0, 0]
    assert not any("of its ink there" in note for note in found.notes)


@pytest.mark.parametrize(
    "pair", [("#f2c418", "#ffff00"), ("#00a0e0", "#00ffff"), ("#b3261e", "#ff0000")]
)
def test_a_pure_color_of_the_hue_of_its_ink_is_a_solid(tmp_path, pair) -> None:
    path = as_layered(tmp_path / "a.psd", [bar("red", 0, 4), bar("own", 4, 8, pair[1])])
    found, _ = own(path, INKS | {"own": pair[0]})
    assert eighths(found.tones["own"])[4:] == [100] * 4
    assert not any("of its ink there" in note for note in found.notes)


@pytest.mark.parametrize("mode", [1, 4])
def test_layers_in_gray_and_in_process_inks(tmp_path, mode) -> None:
    bars = [bar("red", 0, 2), bar("red", 2, 4, "#808080", 0.5), bar("deep blue", 4, 8, "#808080")]
    path = as_layered(tmp_path / "a.psd", bars, mode=mode)
    found, _ = own(path)
    assert eighths(found.tones["red"]) == [100, 100, 25, 25, 0, 0, 0, 0]
    assert eighths(found.tones["deep blue"]) == [0] * 4 + [50] * 4


def test_a_pale_ink_drawn_beside_black_is_told(art) -> None:
    path = art(bar("white", 0, 3, "#ffffff"), bar("white", 3, 6), bar("red", 6, 8))
    found, _ = own(path)
    assert eighths(found.tones["white"]) == [0, 0, 0, 100, 100, 100, 0, 0]
    (said,) = (note for note in found.notes if "darker ones" in note)
    assert said.startswith("The layer white") and "prints 0 % of it" in said
    # White all over is paper.
    path = art(bar("white", 0, 8, "#ffffff"), bar("white", 3, 6), bar("red", 6, 8))
    assert not any("darker ones" in note for note in own(path)[0].notes)


def test_layers_called_otherwise_are_told_apart_and_none_is_taken(art) -> None:
    path = art(bar("red", 0, 4), bar("Deep blue", 4, 6), bar("Guides", 6, 8))
    found, told = own(path)
    assert found is None
    (said,) = (note for note in told if "layers" in note)
    assert "are called like inks (red and Deep blue) and others are not (Guides)" in said
    # White paper, hidden sketches and the like hinder nothing.
    white = art(
        bar("paper", 0, 8, "#ffffff"), bar("red", 0, 4), bar("deep blue", 4, 6),
        bar("Guides", 6, 8, visible=False),
    )  # fmt: skip
    assert list(own(white)[0].tones) == ["red", "deep blue"]


def test_one_name_alone_says_nothing(art) -> None:
    found, told = own(art(bar("red", 0, 4), bar("Layer 2", 4, 8)))
    assert found is None and not any("ayers" in note for note in told)


def test_a_hidden_layer_of_an_ink_is_told_and_not_taken(art) -> None:
    found, _ = own(art(bar("red", 0, 4), bar("deep blue", 4, 8, visible=False)))
    assert list(found.tones) == ["red"]
    assert found.notes[0].endswith("were not taken: deep blue.")


@pytest.mark.parametrize("make", [as_svg, as_pdf])
def test_what_lies_in_no_layer_is_not_lost(tmp_path, make) -> None:
    path = make(tmp_path / "a", [bar("red", 0, 3), bar("deep blue", 3, 6), bar(None, 6, 8)])
    found, told = own(path)
    assert found is None
    assert any("but something lies in no layer" in note for note in told)


def test_layers_of_one_ink_are_one_plate(art) -> None:
    found, _ = own(art(bar("red", 0, 2), bar("deep blue", 2, 4), bar("RED", 6, 8)))
    assert eighths(found.tones["red"]) == [100, 100, 0, 0, 0, 0, 100, 100]


def test_spot_colors_of_a_page_are_told_by_their_inks_and_not_by_its_layers(tmp_path) -> None:
    plates = ink_page(tmp_path / "b.pdf", b"/R cs 1 scn 0 0 36 72 re f")
    assert list(own(plates)[0].tones) == ["red"]


@pytest.mark.parametrize(("bits", "packed"), [(16, False), (16, True), (8, False)])
def test_layered_files_of_every_depth(tmp_path, bits, packed) -> None:
    bars = [bar("red", 0, 4), bar("deep blue", 2, 8, "#000000", 0.4)]
    found, _ = own(as_layered(tmp_path / "a.psd", bars, bits=bits, packed=packed))
    assert eighths(found.tones["red"]) == [100] * 4 + [0] * 4
    assert eighths(found.tones["deep blue"]) == [0, 0, *[40] * 6]


def test_layers_that_contradict_themselves_are_no_crash(tmp_path) -> None:
    path = as_layered(tmp_path / "a.psd", [bar("red", 0, 4), bar("deep blue", 2, 8)])
    whole = path.read_bytes()
    path.write_bytes(whole.replace(b"8BIMnorm", b"8BIXnorm", 1))
    found, (said,) = own(path)
    assert found is None and "as their descriptions contradict themselves" in said
    pixels = whole.index(b"\0\1", whole.rindex(b"8BIMluni"))
    path.write_bytes(whole[:pixels] + b"\0\2" + whole[pixels + 2 :])
    with pytest.raises(Refused) as caught:
        own(path)
    assert caught.value.reason is Reason.DAMAGED


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"depth": 150}, "groups lie more than 100 deep within each other"),
        ({"area": (-(2**30), 0, 2**30, 80)}, "far larger than the picture"),
        ({"area": (-(2**19), -(2**19), 2**19, 2**19)}, "far larger than the picture"),
        ({"mode": 9}, "they are not in gray, RGB or CMYK of 8 or 16 bits"),
    ],
)
def test_layers_that_are_not_followed_are_told_and_the_picture_is_taken(
    tmp_path, said, why
) -> None:
    path = as_layered(tmp_path / "a.psd", [bar("red", 0, 4), bar("deep blue", 2, 8)], **said)
    found, (note,) = own(path)
    assert found is None and why in note and "colors of its flattened picture" in note


def test_a_layer_that_lacks_a_color_is_told_and_one_in_many_groups_is_taken(tmp_path) -> None:
    path = as_layered(tmp_path / "a.psd", [bar("red", 0, 4), bar("deep blue", 2, 8)], depth=99)
    assert eighths(own(path)[0].tones["deep blue"]) == [0, 0, *[100] * 6]
    path = as_layered(tmp_path / "a.psd", [bar("red", 0, 4), bar("deep blue", 2, 8)])
    whole = path.read_bytes()
    # The second channel of the last layer: number and length follow its area and their count.
    green = whole.rindex(b"8BIMnorm") - 3 * 6
    path.write_bytes(whole[:green] + b"\0\7" + whole[green + 2 :])
    found, (note,) = own(path)
    assert found is None and "as the layer deep blue lacks one of its colors" in note


@pytest.mark.parametrize("order", "<>")
def test_layers_inside_a_tiff_are_told(tmp_path, order) -> None:
    key = b"8BIMLayr" if order == ">" else b"MIB8ryaL"
    said = b"what it is\0" + key + bytes(40)
    for tags in ([(37724, 7, len(said), said, True)], []):
        tifffile.imwrite(
            tmp_path / "a.tif", np.full((9, 9, 3), 200, np.uint8), byteorder=order,
            photometric="rgb", extratags=tags, metadata=None,
        )  # fmt: skip
        found, told = own(tmp_path / "a.tif")
        assert found is None and len(told) == len(tags)
        assert all("as those inside a TIFF are not read" in note for note in told)


def test_a_layer_that_effects_change_is_told_and_none_is_taken(tmp_path) -> None:
    path = as_layered(tmp_path / "a.psd", [bar("red", 0, 4), bar("deep blue", 2, 8)])
    whole = path.read_bytes()
    clipped = whole.rindex(b"8BIMnorm") + 9
    path.write_bytes(whole[:clipped] + b"\1" + whole[clipped + 1 :])
    found, (said,) = own(path)
    assert found is None and "what some of them show (deep blue) is made by effects" in said
