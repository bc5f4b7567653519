"""Layers of art drawn alone against what other readers make of them.

psd-tools composes each layer of a layered file, and writes it; Poppler draws a page whose other
layers are set to off by the document itself.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

sys.path.insert(0, str(Path(__file__).parents[1] / "unit" / "art"))

from art_in_layers import SIDE, as_pdf, bar
from separated_files import LIMITS

from filmhand.art.drawings.vector import FilmSize
from filmhand.art.plates.art_layers import layers_of_art


def size(_width, _height):
    return FilmSize(SIDE, SIDE, float(SIDE))


def on_white(art, layer, sizing=None):
    """(H, W, 3) codes of a layer drawn alone."""
    with art.drawn([layer], sizing) as drawn:
        pixels = np.concatenate(list(drawn.strips)).astype(float)
    assert pixels.shape[:2] == drawn.shape
    return 255 - (255 - pixels[..., :3]) * pixels[..., 3:] / 255


def bars(shown):
    return [
        bar(f"layer {place}", place, place + 5, color, opacity, visible=place in shown)
        for place, (color, opacity) in enumerate(
            [("#000000", 1), ("#b3261e", 0.5), ("#1d3f9c", 0.8), ("#808080", 1)]
        )
    ]


@pytest.mark.parametrize("place", range(4))
def test_a_layer_of_a_page_is_what_another_renderer_shows_of_it(tmp_path, place) -> None:
    tool = shutil.which("pdftoppm")
    if tool is None:
        pytest.skip("Poppler is not installed")
    art = layers_of_art(
        as_pdf(tmp_path / "a.pdf", bars(range(4))), name="a.pdf", limits=LIMITS, page=0
    )
    assert art is not None
    alone = as_pdf(tmp_path / "b.pdf", bars([place]))
    subprocess.run([tool, "-r", str(SIDE), "-png", alone, tmp_path / "b"], check=True)
    (drawn,) = tmp_path.glob("b-*.png")
    colors = np.asarray(Image.open(drawn).convert("RGB")).astype(int)
    ours = on_white(art, art.layers[place], size)
    # An edge on the border of two pixels may take one more of them.
    other = (np.abs(ours - colors) > 1).any(axis=(0, 2))
    assert other.sum() <= 1 and len(np.unique(colors.reshape(-1, 3), axis=0)) == 2


@pytest.mark.parametrize("packing", ["RAW", "RLE", "ZIP"])
def test_layers_of_a_layered_file_are_what_another_reader_composes(tmp_path, packing) -> None:
    tools = pytest.importorskip("psd_tools")
    from psd_tools.api.layers import Group, PixelLayer
    from psd_tools.constants import Compression

    document = tools.PSDImage.new("RGB", (90, 70), color=255)
    random = np.random.default_rng(3)

    def layer(name, left, top, across, down, **said):
        pixels = random.integers(0, 255, (down, across, 4)).astype(np.uint8)
        made = PixelLayer.frompil(
            Image.fromarray(pixels), document, name, top, left, Compression[packing]
        )
        for key, value in said.items():
            setattr(made, key, value)
        return made

    document.append(layer("red", 10, 5, 40, 50))
    document.append(layer("beyond the edges", -15, -10, 60, 100, opacity=140))
    document.append(layer("far larger", -200, -500, 700, 900))
    deep = document
    for depth in range(24):
        inner = Group.new(deep, f"group {depth}")
        if inner not in list(deep):
            deep.append(inner)
        deep = inner
        if depth % 8 == 3:
            deep.opacity = 180
        if depth % 6 == 0:
            deep.append(layer("in it", 3 * depth, 2 * depth, 30, 40, opacity=200))
    group = Group.new(document, "group")
    if group not in list(document):
        document.append(group)
    group.append(layer("first", 5, 5, 50, 50))
    group.append(layer("second", 30, 20, 50, 40, opacity=90))
    group.append(layer("hidden", 0, 0, 90, 70, visible=False))
    group.opacity = 200
    document.append(layer("unseen", 0, 0, 90, 70, visible=False))
    document.save(tmp_path / "a.psd")

    art = layers_of_art(tmp_path / "a.psd", name="a.psd", limits=LIMITS)
    assert art is not None
    names = [one.names[0] for one in art.layers]
    assert names == ["red", "beyond the edges", "far larger", "group 0", "group", "unseen"]
    for one, other in zip(art.layers, list(tools.PSDImage.open(tmp_path / "a.psd")), strict=True):
        assert one.is_clear
        ours = on_white(art, one)
        if not other.visible:
            assert (ours == 255).all()
            continue
        color, alpha = _parts(other)
        wanted = 255 * (color * alpha[..., None] + 1 - alpha[..., None])
        assert np.abs(ours - wanted).max() <= 2.5


def _parts(layer):
    """(70, 90, 3) colors 0..1 and (70, 90) opacity of a layer as psd-tools composes it."""
    made = layer.composite(viewport=(0, 0, 90, 70), force=True)
    pixels = np.asarray(made.convert("RGBA")).astype(float) / 255
    return pixels[..., :3], pixels[..., 3]
