"""What of ordinary photographs is told as beyond a press that an ICC profile describes.

Prints, for each profile and picture, the part of it that is off by more than the two limits, as
colors are compared with a black of no light, and with the press's (black point compensation, ISO
18619:2015). Pictures are those that scikit-image brings along, and two logos of one color.

    python tests/benchmarks/press_warnings.py [PROFILE.icc ...]
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import skimage.data
from PIL import Image

sys.path.insert(0, str(Path(__file__).parents[1] / "unit" / "pipeline" / "separation"))

from icc_files import newsprint_profile

from filmhand.ink.cielab import srgb_to_lab, with_black_at
from filmhand.ink.color_difference import color_difference
from filmhand.pipeline.separation.color_checks import FAR, FAR_SHARE, TOO_FAR, TOO_FAR_SHARE
from filmhand.pipeline.separation.planning.output_profile import output_profile
from filmhand.profile.icc import RenderingIntent

FREE = Path("/usr/share/color/icc/ghostscript/default_cmyk.icc")
PHOTOS = (
    "astronaut.png", "coffee.png", "chelsea.png", "rocket.jpg", "retina.jpg", "camera.png",
    "hubble_deep_field.jpg", "motorcycle_left.png", "ihc.png", "brick.png",
)  # fmt: skip
LOGOS = {"logo in neon green": (57, 255, 20), "logo in blue": (0, 0, 255)}


def main() -> None:
    folder = Path(skimage.data.__file__).parent
    pictures = {name: np.asarray(Image.open(folder / name).convert("RGB")) for name in PHOTOS}
    for name, color in LOGOS.items():
        pictures[name] = np.full((100, 100, 3), 255, np.uint8)
        pictures[name][20:60, 20:80] = color
    profiles = {"newsprint": newsprint_profile()}
    profiles |= {path.name: path.read_bytes() for path in [FREE] if path.exists()}
    profiles |= {name: Path(name).read_bytes() for name in sys.argv[1:]}
    print(
        f"| picture | profile | intent | off by over {FAR:g} and {TOO_FAR:g}, % | with its black |"
    )
    print("|---|---|---|---|---|")
    for called, data in profiles.items():
        for intent in (RenderingIntent.RELATIVE, RenderingIntent.PERCEPTUAL):
            press = output_profile(data, intent=intent)
            for name, codes in pictures.items():
                step = max(1, int(np.sqrt(codes.shape[0] * codes.shape[1] / 40_000)))
                sample = codes[::step, ::step].reshape(-1, 3) / 255
                lab, printed = srgb_to_lab(sample), press.model.screened(press.table.at(sample))
                told = [
                    _told(color_difference(printed, with_black_at(lab, black)))
                    for black in (0.0, press.black)
                ]
                print(f"| {name} | {called} | {intent} | {told[0]} | {told[1]} |")


def _told(off: np.ndarray) -> str:
    far, too_far = float((off > FAR).mean()), float((off > TOO_FAR).mean())
    word = "refused" if too_far > TOO_FAR_SHARE else "told" if far > FAR_SHARE else "nothing"
    return f"{100 * far:.1f}, {100 * too_far:.1f}: {word}"


if __name__ == "__main__":
    main()
