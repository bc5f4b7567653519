"""Fonts that a drawing names and this computer has not, whatever fonts this computer has.

The renderer gets the fonts of each test and none of the computer's.
"""

from __future__ import annotations

import struct
from collections.abc import Callable
from functools import partial
from io import BytesIO
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from PIL import ImageFont

from filmhand.art.files import extras
from filmhand.art.files.open_art import Art, open_art
from filmhand.errors import Reason, Refused

resvg_py = pytest.importorskip("resvg_py")
LIMITS: Any = SimpleNamespace(megapixels=20.0, megabytes=512.0, pages=50, memory=2**31)
# What the renderer falls back to unless told otherwise, as if the computer's settings said so.
FALLBACK = "Times New Roman"
WRITTEN = [
    "<text y='20' font-family='{0}'>hi</text>",
    '<text y="20" style="font: bold 12px/1 {0}">hi</text>',
    "<style>text{{font-family:{0}}}</style><text y='20'>hi</text>",
]
Draws = Callable[..., Art]


def font_named(path: Path, family: str) -> Path:
    """Pillow's own font under another name: its table "name" (OpenType) is written anew."""
    default = ImageFont.load_default(20)
    assert isinstance(default, ImageFont.FreeTypeFont) and isinstance(default.path, BytesIO)
    data = default.path.getvalue()
    told = family.encode("utf-16-be")
    # Version, two records, where their text begins; Windows, Unicode, English: family (1) and
    # PostScript name (6).
    table = struct.pack(">3H", 0, 2, 30)
    table += b"".join(struct.pack(">6H", 3, 1, 0x409, key, len(told), 0) for key in (1, 6)) + told
    for at in range(12, 12 + 16 * struct.unpack_from(">H", data, 4)[0], 16):
        if data[at : at + 4] == b"name":
            place = struct.pack(">II", len(data), len(table))
            data = data[: at + 8] + place + data[at + 16 :] + table
    path.write_bytes(data)
    assert ImageFont.truetype(path).getname()[0] == family
    return path


@pytest.fixture
def draws(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Draws:
    def draw(body: str, *fonts: str) -> Art:
        files = [str(font_named(tmp_path / f"{font}.ttf", font)) for font in fonts]
        bare = partial(
            resvg_py.svg_to_bytes, skip_system_fonts=True, font_files=files, serif_family=FALLBACK
        )
        monkeypatch.setattr(extras, "load", lambda *_, **__: SimpleNamespace(svg_to_bytes=bare))
        path = tmp_path / "a.svg"
        path.write_text(
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 30">{body}</svg>', "utf-8"
        )
        return open_art(path, name=path.name, limits=LIMITS, channel="luminance")

    return draw


def inked(art: Art) -> bool:
    return bool(np.any(art.coded < 30000))


@pytest.mark.parametrize("written", WRITTEN)
@pytest.mark.parametrize("fonts", [(), ("DejaVu Sans",), (FALLBACK,), ("DejaVu Serif", FALLBACK)])
def test_a_family_that_is_not_there_is_refused_by_name(
    draws: Draws, written: str, fonts: tuple[str, ...]
) -> None:
    with pytest.raises(Refused) as caught:
        draws(written.format("Nosuchface"), *fonts)
    assert caught.value.reason is Reason.NOT_ART
    assert "(Nosuchface)" in caught.value.say and "outlines" in caught.value.do


@pytest.mark.parametrize("written", WRITTEN)
@pytest.mark.parametrize("second", ["Odd One", "serif", FALLBACK])
def test_a_second_choice_is_drawn_and_told(draws: Draws, written: str, second: str) -> None:
    art = draws(written.format(f"Nosuchface, {second}"), "Odd One", FALLBACK)
    (note,) = [note for note in art.notes if "font" in note]
    assert "(Nosuchface)" in note
    assert inked(art)


@pytest.mark.parametrize("written", WRITTEN)
@pytest.mark.parametrize("family", ["Odd One", "serif", "sans-serif", "monospace", "cursive"])
@pytest.mark.parametrize("other", ["DejaVu Sans", "Liberation Mono", FALLBACK])
def test_what_is_there_is_drawn_without_a_word(
    draws: Draws, written: str, family: str, other: str
) -> None:
    art = draws(written.format(family), "Odd One", other)
    assert inked(art) and not [note for note in art.notes if "font" in note]


def test_a_font_that_no_system_is_known_for_draws_its_own_family(draws: Draws) -> None:
    assert inked(draws(WRITTEN[0].format("Odd One"), "Odd One"))


@pytest.mark.parametrize("family", ["Sans-Serif", "system-ui", "odd one"])
def test_what_the_renderer_would_draw_in_its_serif_is_refused(draws: Draws, family: str) -> None:
    with pytest.raises(Refused, match=family):
        draws(WRITTEN[0].format(family), "Odd One", FALLBACK)


def test_text_that_names_no_font_is_drawn_in_any(draws: Draws) -> None:
    text = "<text y='20'>hi</text>"
    assert inked(draws(text, "Liberation Mono"))
    with pytest.raises(Refused, match="no font at all"):
        draws(text)


def test_many_families_are_each_looked_for(draws: Draws) -> None:
    many = "".join(f"<text y='20' font-family='Face {n}, Odd One'>hi</text>" for n in range(500))
    (note,) = [note for note in draws(many, "Odd One").notes if "font" in note]
    assert "(Face 0, Face 1, Face 10, Face 100, Face 101)" in note
    with pytest.raises(Refused, match=r"\(Face 499\)"):
        draws(many.replace("Face 499, Odd One", "Face 499"), "Odd One")
