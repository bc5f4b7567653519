"""Resampling against libvips, scipy and closed forms; the unit tests hold it against Pillow.

Sources: libvips 8.18 through pyvips (kernels lanczos3, cubic, linear; when it enlarges it
interpolates otherwise, so only reductions are compared); scipy.ndimage.zoom, splines of order 5;
the camera of scikit-image. Enlargements are also held against waves whose values at any place are
known without a library.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from filmhand.pipeline.render.strips import LightRows
from filmhand.sheet.layout import Box
from filmhand.sheet.resample import Resampled

pytestmark = pytest.mark.outside
Method = Image.Resampling
Floats = NDArray[np.float64]


def ours(picture: Floats, to: tuple[int, int], method: Image.Resampling) -> Floats:
    codes = np.round(picture * 65535).astype(np.uint16)
    resampled = Resampled(codes, np.arange(65536) / 65535, to, method=method)
    return resampled.rows(0, to[1]).astype(np.float64)


@pytest.fixture(scope="module")
def camera() -> NDArray[np.uint8]:
    skimage = pytest.importorskip("skimage")
    with Image.open(Path(skimage.__file__).parent / "data" / "camera.png") as image:
        return np.asarray(image.convert("L"))


KERNELS = [(Method.LANCZOS, "lanczos3"), (Method.BICUBIC, "cubic"), (Method.BILINEAR, "linear")]


@pytest.mark.parametrize(("method", "kernel"), KERNELS)
@pytest.mark.parametrize(
    ("to", "most"),
    [((256, 256), 1e-6), ((128, 64), 1e-6), ((171, 171), 0.005), ((300, 200), 0.005)],
)
def test_libvips_reduces_to_the_same_picture(
    camera: NDArray[np.uint8],
    method: Image.Resampling,
    kernel: str,
    to: tuple[int, int],
    most: float,
) -> None:
    pyvips = pytest.importorskip("pyvips", exc_type=(ImportError, OSError))
    picture = camera / 255
    image = pyvips.Image.new_from_array(picture.astype(np.float32))
    scale = (to[0] / picture.shape[1], to[1] / picture.shape[0])
    # Without the gap it takes plain means of whole pixels first, to save time.
    theirs = image.resize(scale[0], vscale=scale[1], kernel=kernel, gap=0).numpy()
    assert theirs.shape == (to[1], to[0])
    # It rounds places to 1/64 of a pixel unless the scale is whole; borders are extended otherwise.
    apart = np.abs(ours(picture, to, method) - theirs)[4:-4, 4:-4]
    assert apart.max() <= most


def test_libvips_reduces_to_the_same_light(camera: NDArray[np.uint8]) -> None:
    # From coded gray to light and back, in a library that knows sRGB by itself.
    pyvips = pytest.importorskip("pyvips", exc_type=(ImportError, OSError))
    gray = pyvips.Image.new_from_array(camera).copy(interpretation="b-w")
    theirs = gray.colourspace("scrgb")[1].resize(0.5, kernel="lanczos3", gap=0).numpy()
    rows = LightRows(camera.astype(np.uint16) * 257, Box(0, 0, 256, 256), drawn=False)
    assert np.abs(rows(0, 256) - theirs)[4:-4, 4:-4].max() < 1e-4


def wave(y: Floats, x: Floats) -> Floats:
    return 0.5 + 0.2 * np.sin(0.25 * x + 1) + 0.2 * np.cos(0.31 * y)


@pytest.mark.parametrize("to", [(517, 431), (400, 320), (230, 160)])
def test_enlarged_waves_are_the_waves_themselves(to: tuple[int, int]) -> None:
    ndimage = pytest.importorskip("scipy.ndimage")
    width, height = 200, 160
    y, x = np.mgrid[:height, :width].astype(np.float64)
    at_y = (np.arange(to[1]) + 0.5) * height / to[1] - 0.5
    at_x = (np.arange(to[0]) + 0.5) * width / to[0] - 0.5
    true = wave(at_y[:, None], at_x[None, :])
    inside = (slice(12, -12), slice(12, -12))
    zoomed = ndimage.zoom(
        wave(y, x), (to[1] / height, to[0] / width), order=5, mode="grid-wrap", grid_mode=True
    )
    assert np.abs(zoomed - true)[inside].max() < 1e-3  # both know where a pixel's middle lies
    for method, most in ((Method.BICUBIC, 1e-3), (Method.LANCZOS, 4e-3), (Method.BILINEAR, 6e-3)):
        found = ours(wave(y, x), to, method)
        assert np.abs(found - true)[inside].max() < most
        assert np.abs(found - zoomed)[inside].max() < most
