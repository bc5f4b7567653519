"""Colors of art on its cloth."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from PIL import Image

from filmhand.errors import Reason, Refused
from filmhand.pipeline.separation import colors_of_art as module
from filmhand.pipeline.separation.colors_of_art import colors_of_art, eight_bits
from filmhand.profile.model import Limits
from filmhand.tone import linear_to_srgb, srgb_to_linear

WHITE, NAVY = np.ones(3), np.array([20, 30, 70]) / 255


@pytest.fixture
def picture():
    return np.random.default_rng(7).integers(0, 256, (23, 31, 3), np.uint8)


def colors(path, cloth=WHITE, limits=None):
    return colors_of_art(path, name=path.name, limits=limits or Limits(), cloth=cloth)


@pytest.mark.parametrize("ending", ["png", "tif", "bmp"])
def test_opaque_art_keeps_its_codes(tmp_path, picture, ending):
    path = tmp_path / f"a.{ending}"
    Image.fromarray(picture).save(path, dpi=(300, 300))
    found = colors(path, NAVY)
    assert (found.codes == picture * np.uint16(257)).all()
    assert (eight_bits(found.codes) == picture).all()
    assert not found.see_through
    assert found.ppi == pytest.approx((300, 300), rel=0.001)
    assert found.format == {"png": "PNG", "tif": "TIFF", "bmp": "BMP"}[ending]


def test_gray_and_indexed_art_have_colors_too(tmp_path, picture):
    gray = Image.fromarray(picture[..., 0])
    gray.save(tmp_path / "gray.png")
    few = Image.fromarray(picture).quantize(9)
    few.save(tmp_path / "few.png")
    found = eight_bits(colors(tmp_path / "gray.png").codes)
    assert (found == picture[..., :1]).all()
    indexed = eight_bits(colors(tmp_path / "few.png").codes)
    assert (indexed == np.asarray(few.convert("RGB"))).all()


@pytest.mark.parametrize("cloth", [WHITE, NAVY, np.zeros(3)])
def test_see_through_art_lies_on_the_cloth_in_its_light(tmp_path, picture, cloth):
    opacity = np.random.default_rng(8).integers(0, 256, picture.shape[:2], np.uint8)
    opacity[:4], opacity[4:8] = 0, 255
    Image.fromarray(np.dstack([picture, opacity])).save(tmp_path / "a.png")
    found = colors(tmp_path / "a.png", cloth)
    share = opacity[..., None] / 255
    light = share * srgb_to_linear(picture / 255) + (1 - share) * srgb_to_linear(cloth)
    assert found.see_through == bool((cloth < 1).any())
    # Two codes are rounded, each by half a step, which near white is 1.7e-5 of its light.
    laid = srgb_to_linear(found.codes / 65535)
    assert np.abs(laid - light).max() < 4e-5
    assert np.abs(eight_bits(found.codes) / 255 - linear_to_srgb(light)).max() < 0.5 / 255 + 5e-4
    assert (found.codes[:4] == np.rint(cloth * 65535)).all()
    assert (found.codes[4:8] == picture[4:8] * np.uint16(257)).all()


def test_a_key_color_is_see_through(tmp_path):
    image = Image.new("RGB", (6, 4), (10, 20, 30))
    image.paste((200, 0, 0), (0, 0, 3, 4))
    image.save(tmp_path / "a.png", transparency=(10, 20, 30))
    found = eight_bits(colors(tmp_path / "a.png", NAVY).codes)
    assert found[0, 0].tolist() == [200, 0, 0]
    assert found[0, 5].tolist() == [20, 30, 70]


@pytest.mark.parametrize("ending", ["svg", "pdf"])
def test_drawings_blend_codes(tmp_path, ending):
    drawing = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="96" height="96">'
        '<rect x="10" y="10" width="30" height="30" fill="#c81414"/>'
        '<rect x="50" y="50" width="40" height="40" fill="#1020a0" fill-opacity="0.5"/></svg>'
    )
    path = tmp_path / f"a.{ending}"
    if ending == "svg":
        path.write_text(drawing)
    else:
        cairosvg = pytest.importorskip("cairosvg", exc_type=(ImportError, OSError))
        cairosvg.svg2pdf(drawing.encode(), write_to=str(path))
    found = eight_bits(colors(path, NAVY).codes)
    assert found.shape == (300, 300, 3)
    assert found[75, 75].tolist() == [200, 20, 20]
    assert found[5, 5].tolist() == [20, 30, 70]
    half = np.mean([[16, 32, 160], [20, 30, 70]], axis=0)
    assert np.abs(found[220, 220] - half).max() <= 1.5


def test_other_refusals_are_told(tmp_path, picture):
    path = tmp_path / "a.png"
    Image.fromarray(picture).save(path)
    path.write_bytes(path.read_bytes()[:300])
    with pytest.raises(Refused) as broken:
        colors(path)
    assert broken.value.reason is Reason.DAMAGED


def test_a_refusal_of_opacity_alone_is_told_too(tmp_path, monkeypatch):
    def opened(path, *, channel, **_):
        if channel == "alpha":
            raise Refused(Reason.BLANK, "Something else.", "Do that.")
        return SimpleNamespace(coded=np.zeros((2, 2), np.uint16), ppi=None, format="", notes=[])

    monkeypatch.setattr(module, "open_art", opened)
    with pytest.raises(Refused, match="Something else"):
        colors(tmp_path / "a.png", NAVY)
