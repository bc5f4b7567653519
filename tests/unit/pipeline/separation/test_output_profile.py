"""What an ICC output profile says of its inks, against littlecms asked directly.

The profile is one whose print is known; where Debian's free ones are installed, they are tried too.
"""

from __future__ import annotations

from io import BytesIO
from pathlib import Path
from types import SimpleNamespace

import colour
import numpy as np
import pytest
import skimage.data
from icc_files import EXPONENT, SOLIDS, cmyk_profile, newsprint_profile
from PIL import Image, ImageCms

from filmhand.ink.color_difference import color_difference
from filmhand.ink.mixing import bands_to_lab
from filmhand.pipeline.separation.color_checks import far_in_mixtures
from filmhand.pipeline.separation.planning.output_profile import output_profile
from filmhand.profile.icc import RenderingIntent

DEBIAN = Path("/usr/share/color/icc/ghostscript/default_cmyk.icc")  # icc-profiles-free
PROFILES = {"made": cmyk_profile()} | ({"free": DEBIAN.read_bytes()} if DEBIAN.exists() else {})
INTENTS = {
    RenderingIntent.RELATIVE: (ImageCms.Intent.RELATIVE_COLORIMETRIC, True),
    RenderingIntent.PERCEPTUAL: (ImageCms.Intent.PERCEPTUAL, False),
    RenderingIntent.ABSOLUTE: (ImageCms.Intent.ABSOLUTE_COLORIMETRIC, False),
}


def codes() -> np.ndarray:
    """(40, 50, 3) uint8 colors all over sRGB."""
    return np.random.default_rng(3).integers(0, 256, (40, 50, 3)).astype(np.uint8)


@pytest.mark.parametrize("data", PROFILES.values(), ids=PROFILES)
@pytest.mark.parametrize("intent", INTENTS)
def test_colors_become_the_inks_that_littlecms_gives(data, intent) -> None:
    number, compensated = INTENTS[intent]
    press = ImageCms.ImageCmsProfile(BytesIO(data))
    flags = ImageCms.Flags.BLACKPOINTCOMPENSATION if compensated else ImageCms.Flags(0)
    asked = ImageCms.buildTransform(
        ImageCms.createProfile("sRGB"), press, "RGB", "CMYK", number, flags
    )
    wanted = np.asarray(ImageCms.applyTransform(Image.fromarray(codes()), asked)) / 255
    found = output_profile(data, intent=intent).table.at(codes() / 255)
    off = np.abs(found - wanted)
    assert off.mean() < 0.003 and off.max() < 0.04


@pytest.mark.parametrize(("data", "most"), [(PROFILES["made"], 0.6), (PROFILES.get("free"), 3)])
def test_inks_print_what_littlecms_says(data, most) -> None:
    if data is None:
        pytest.skip("icc-profiles-free is not installed")
    press = ImageCms.ImageCmsProfile(BytesIO(data))
    asked = ImageCms.buildTransform(
        press, ImageCms.createProfile("LAB"), "CMYK", "LAB", ImageCms.Intent.RELATIVE_COLORIMETRIC
    )
    inks = np.random.default_rng(4).integers(0, 256, (1, 500, 4)).astype(np.uint8)
    raw = np.asarray(ImageCms.applyTransform(Image.fromarray(inks, "CMYK"), asked))[0]
    # As colour-science reads it: L* as a share of 100, a* and b* as signed bytes.
    wanted = np.stack([raw[:, 0] / 2.55, *raw[:, 1:].view(np.int8).T], axis=-1).astype(float)
    found = output_profile(data).model.screened(inks[0] / 255)
    off = colour.delta_E(wanted, found, method="CIE 2000")
    assert off.mean() < most and np.allclose(off, color_difference(wanted, found), atol=1e-6)


def test_the_model_of_a_known_press_is_found() -> None:
    found = output_profile(cmyk_profile())
    assert found.name == "test press"
    assert found.model.yule_nielsen == pytest.approx(EXPONENT, abs=0.15)
    assert found.colors == pytest.approx(np.array(SOLIDS), abs=1)
    assert bands_to_lab(found.model.primaries[0]) == pytest.approx([100, 0, 0], abs=0.5)
    assert bands_to_lab(found.model.primaries[4]) == pytest.approx(SOLIDS[2], abs=1)


def test_some_of_the_inks_print_as_all_do_without_the_others() -> None:
    whole = output_profile(cmyk_profile())
    part = whole.only([1, 3])
    inks = np.random.default_rng(6).random((50, 2))
    every = np.zeros((50, 4))
    every[:, [1, 3]] = inks
    assert part.model.screened(inks) == pytest.approx(whole.model.screened(every))
    assert np.array_equal(part.table.values, whole.table.values[..., [1, 3]])
    assert np.array_equal(part.colors, whole.colors[[1, 3]])


def test_the_total_is_kept_and_black_with_it() -> None:
    free = output_profile(cmyk_profile()).table.values
    held = output_profile(cmyk_profile(), total_ink=1.5).table.values
    assert free.sum(axis=-1).max() > 1.9 and held.sum(axis=-1).max() <= 1.5 + 1e-9
    assert np.array_equal(free[..., 3], held[..., 3])
    within = free.sum(axis=-1) <= 1.5
    assert np.array_equal(free[within], held[within])


def test_shadows_are_compared_as_the_press_has_them_and_colors_as_they_are() -> None:
    press = output_profile(newsprint_profile(points=13))
    # Newsprint's black beside its paper: L* 36 and 82 (ISO 12647-3, from memory), with other inks.
    assert 0.04 < press.black < 0.15
    photos = [skimage.data.astronaut(), skimage.data.coffee(), np.zeros((100, 100, 3), np.uint8)]
    neon = np.full((100, 100, 3), 255, np.uint8)
    neon[:30] = 57, 255, 20
    found = [
        far_in_mixtures(
            art[::4, ::4].astype(np.uint16) * 257,
            press.table,
            SimpleNamespace(model=press.model),
            [SimpleNamespace(color=color) for color in press.colors],
            black=press.black,
        )
        for art in (*photos, neon)
    ]
    assert found[:-1] == [None] * len(photos)
    assert found[-1].share == pytest.approx(0.3, abs=0.03)
    assert press.only([0, 1]).black == press.black


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"no profile at all" * 20,
        cmyk_profile()[:4000],
        cmyk_profile(kind=b"mntr"),
        ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes(),
    ],
    ids=["nothing", "text", "cut", "display", "sRGB"],
)
def test_what_is_no_profile_of_four_inks_is_an_error(data) -> None:
    with pytest.raises(ValueError, match="no output profile that can be followed"):
        output_profile(data)
