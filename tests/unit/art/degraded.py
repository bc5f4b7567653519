"""Clean drawings, and the ways in which shops get to see them: degraded on purpose, seeded."""

from __future__ import annotations

from functools import lru_cache
from io import BytesIO
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFilter

Gray = NDArray[np.float64]


def drawing(width: int = 1400, height: int = 1100, *, stroke: int = 7, seed: int = 1) -> Gray:
    """A line drawing, 1 where there is paper and 0 where there is ink, edges averaged in light."""
    rng = np.random.default_rng(seed)
    scale = 3
    image = Image.new("L", (width * scale, height * scale), 255)
    pen = ImageDraw.Draw(image)
    for _ in range(9):
        x, y = rng.uniform(0.15, 0.85, 2) * (width, height) * scale
        r = rng.uniform(0.05, 0.14) * width * scale
        start = rng.uniform(0, 360)
        pen.arc((x - r, y - r, x + r, y + r), start, start + rng.uniform(120, 360), 0,
                stroke * scale)  # fmt: skip
    for _ in range(14):
        points = rng.uniform(0.08, 0.92, (4, 2)) * (width * scale, height * scale)
        curve = bezier(points)
        pen.line([tuple(p) for p in curve], 0, stroke * scale, joint="curve")
    x, y = 0.7 * width * scale, 0.7 * height * scale
    pen.polygon([(x, y), (x + 160 * scale, y + 30 * scale), (x + 60 * scale, y + 120 * scale)], 0)
    return np.asarray(image.reduce(scale)).astype(float) / 255


def bezier(points: NDArray[np.float64], steps: int = 60) -> NDArray[np.float64]:
    t = np.linspace(0, 1, steps)[:, None]
    a, b, c, d = points
    return (1 - t) ** 3 * a + 3 * t * (1 - t) ** 2 * b + 3 * t**2 * (1 - t) * c + t**3 * d


def uneven_light(shape: tuple[int, int], *, darkest: float) -> Gray:
    """Light over a sheet, 1 in one corner and ``darkest`` in the other, with a soft bend."""
    y, x = np.mgrid[0 : shape[0], 0 : shape[1]] / np.array(max(shape))
    ramp = (x + 0.6 * y + 0.15 * np.sin(3 * x + 2 * y)) / 1.7
    ramp = (ramp - ramp.min()) / np.ptp(ramp)
    return 1 - (1 - darkest) * ramp


def on_paper(
    clean: Gray,
    *,
    paper: float,
    ink: float,
    darkest: float = 1.0,
    grain: float = 0.0,
    noise: float = 0.0,
    blur: float = 0.0,
    seed: int = 7,
) -> Gray:
    """Light of the drawing on paper: reflectances, a shadow, paper grain, lens blur, noise."""
    rng = np.random.default_rng(seed)
    light = ink + (paper - ink) * clean
    if grain:
        light = light * (1 + grain * soft_noise(rng, clean.shape, radius=1.2))
    light = light * uneven_light(clean.shape, darkest=darkest)
    if blur:
        light = blurred(light, blur)
    return np.clip(light + noise * rng.standard_normal(clean.shape), 0, 1)


def soft_noise(rng: np.random.Generator, shape: tuple[int, int], *, radius: float) -> Gray:
    field = blurred(rng.standard_normal(shape), radius)
    return field / field.std()


def blurred(field: Gray, radius: float) -> Gray:
    """A Gaussian, by Pillow on 16 bits' worth of steps in float."""
    low, high = field.min(), field.max()
    if high <= low:
        return field
    kernel = np.exp(-0.5 * (np.arange(-int(4 * radius) - 1, int(4 * radius) + 2) / radius) ** 2)
    kernel /= kernel.sum()
    pad = len(kernel) // 2
    wide = np.pad(field, pad, mode="edge")
    rows = sum(k * wide[i : i + field.shape[0]] for i, k in enumerate(kernel))
    return sum(k * rows[:, i : i + field.shape[1]] for i, k in enumerate(kernel))


def coded(light: Gray) -> NDArray[np.uint16]:
    """Light 0..1 as an 8-bit file gives it: sRGB codes (IEC 61966-2-1) times 257."""
    v = np.where(
        light <= 0.0031308, 12.92 * light, 1.055 * np.maximum(light, 0) ** (1 / 2.4) - 0.055
    )
    return (np.round(np.clip(v, 0, 1) * 255) * 257).astype(np.uint16)


def jpeg(codes: NDArray[np.uint16], quality: int) -> NDArray[np.uint16]:
    """The same through a JPEG file."""
    buffer = BytesIO()
    Image.fromarray((codes // 257).astype(np.uint8)).save(buffer, "JPEG", quality=quality)
    with Image.open(buffer) as image:
        return np.asarray(image).astype(np.uint16) * 257


def skimage_picture(name: str) -> NDArray[np.uint16] | None:
    """A picture that comes with scikit-image as gray codes, or None if it is not installed."""
    try:
        import skimage
    except ImportError:
        return None
    for path in Path(skimage.__file__).parent.glob(f"data/{name}.*"):
        with Image.open(path) as image:
            if image.mode in ("RGBA", "LA", "P"):
                white = Image.new("RGBA", image.size, "white")
                image = Image.alpha_composite(white, image.convert("RGBA"))  # noqa: PLW2901
            return np.asarray(image.convert("L")).astype(np.uint16) * 257
    return None


@lru_cache
def line_samples() -> dict[str, NDArray[np.uint16]]:
    """Line art, each under a name that tells what was done to it."""
    clean = drawing()
    fine = drawing(stroke=3, seed=3)
    bold = drawing(stroke=26, seed=4)
    samples = {
        "clean": coded(clean),
        "fine": coded(fine),
        "bold": coded(bold),
        "big": coded(np.kron(drawing(1000, 800, stroke=6), np.ones((4, 4)))),
        "small": coded(drawing(300, 240, stroke=2)),
        "white on black": coded(1 - clean),
        "white on black, jpeg q40": jpeg(coded(1 - bold), 40),
        "tinted paper": coded(on_paper(clean, paper=0.62, ink=0.03)),
        "pencil on gray paper": coded(
            on_paper(fine, paper=0.45, ink=0.22, grain=0.03, noise=0.008, blur=0.8)
        ),
        "faint pencil on white paper": coded(
            on_paper(clean, paper=0.85, ink=0.5, grain=0.015, noise=0.008, blur=0.8)
        ),
        "pen in a shadow": coded(
            on_paper(clean, paper=0.85, ink=0.05, darkest=0.35, noise=0.006, blur=0.7)
        ),
        "phone, blurred": coded(
            on_paper(bold, paper=0.7, ink=0.06, darkest=0.5, noise=0.01, blur=4)
        ),
        "phone, blurred, jpeg": jpeg(
            coded(on_paper(clean, paper=0.7, ink=0.06, darkest=0.5, noise=0.012, blur=2.5)), 60
        ),
        "noisy": coded(on_paper(clean, paper=0.8, ink=0.08, noise=0.05)),
        "jpeg q40": jpeg(coded(fine), 40),
        "chalk on a board": coded(
            on_paper(1 - clean, paper=0.7, ink=0.06, darkest=0.6, grain=0.05, noise=0.006, blur=0.8)
        ),
        "text page": coded(page_of_text()),
        "text page, scanned": jpeg(
            coded(on_paper(page_of_text(), paper=0.8, ink=0.05, noise=0.01, blur=0.7)), 75
        ),
    }
    for name in ("text", "page", "horse", "chessboard_GRAY"):
        picture = skimage_picture(name)
        if picture is not None:
            samples[f"skimage {name}"] = picture
    return samples


def page_of_text(width: int = 1000, height: int = 1300) -> Gray:
    """Rows of small upright marks, like words seen from afar."""
    rng = np.random.default_rng(11)
    image = Image.new("L", (width * 2, height * 2), 255)
    pen = ImageDraw.Draw(image)
    for top in range(160, 2 * height - 160, 64):
        x = 120
        while x < 2 * width - 160:
            for _ in range(rng.integers(2, 9)):
                w = int(rng.integers(6, 18))
                pen.line((x, top, x + w, top + 30), 0, 6)
                if rng.random() < 0.5:
                    pen.arc((x, top + 8, x + 20, top + 32), 0, 300, 0, 5)
                x += w + 10
            x += 26
    return np.asarray(image.reduce(2)).astype(float) / 255


def flat_tints(levels: tuple[float, ...], *, size: int = 900) -> Gray:
    """A logo of flat shapes on white; levels are tones 0..1."""
    image = Image.new("L", (size * 2, size * 2), 255)
    pen = ImageDraw.Draw(image)
    for i, level in enumerate(levels):
        left = 120 + 1500 * i // len(levels)
        code = round(255 * (1 - level))
        pen.ellipse((left, 300, left + 1400 // len(levels), 1000), code)
        pen.rectangle((left, 1100, left + 1200 // len(levels), 1500), code)
    return np.asarray(image.reduce(2)).astype(float) / 255


def as_codes(values: Gray) -> NDArray[np.uint16]:
    """Values 0..1 that are codes already."""
    return (np.round(np.clip(values, 0, 1) * 255) * 257).astype(np.uint16)


@lru_cache
def tone_samples() -> dict[str, NDArray[np.uint16]]:
    """Art that needs a screen, each under a name that tells what it is."""
    y, x = np.mgrid[0:900, 0:1200] / 1200
    rng = np.random.default_rng(2)
    logo = flat_tints((0.3, 0.5, 1.0))
    with_words = logo.copy()
    with_words[700:800, 40:860] = np.minimum(with_words[700:800, 40:860],
                                             drawing(820, 100, stroke=4))  # fmt: skip
    soft = Image.fromarray((flat_tints((1.0,)) * 255).astype(np.uint8))
    samples = {
        "ramp": as_codes(x),
        "ramp with a border": as_codes(np.pad(x, 60, constant_values=1.0)),
        "radial": as_codes(np.hypot(x - 0.5, y - 0.4) * 1.5),
        "logo with 30 % and 50 %": as_codes(logo),
        "the same as jpeg q50": jpeg(as_codes(logo), 50),
        "the same, scanned": as_codes(logo * 0.9 + 0.01 * rng.standard_normal(logo.shape)),
        "logo of one 50 % gray": as_codes(flat_tints((0.5,))),
        "logo of one 30 % gray": as_codes(flat_tints((0.3, 0.3))),
        "logo with a small 40 % part": as_codes(np.where(
            (np.hypot(x - 0.1, y - 0.1) < 0.03), 0.6, drawing(1200, 900))),
        "words beside tints": as_codes(with_words),
        "soft glow": as_codes(np.asarray(soft.filter(ImageFilter.GaussianBlur(60))) / 255.0),
        "photo on a white page": as_codes(photo_on_page()),
        "blank": as_codes(np.ones((600, 600))),
        "noise": as_codes(rng.random((600, 800))),
        "clouds": as_codes(0.5 + 0.15 * soft_noise(rng, (700, 700), radius=30)),
    }  # fmt: skip
    names = [
        "camera",
        "astronaut",
        "coffee",
        "chelsea",
        "gravel",
        "brick",
        "grass",
        "moon",
        "coins",
        "rocket",
        "hubble_deep_field",
        "retina",
        "ihc",
        "clock_motion",
        "cell",
        "phantom",
        "color",
        "motorcycle_left",
    ]
    for name in names:
        picture = skimage_picture(name)
        if picture is not None:
            samples[f"skimage {name}"] = picture
    camera = skimage_picture("camera")
    if camera is not None:
        samples["camera, jpeg q30"] = jpeg(camera, 30)
        samples["camera, faded"] = (20000 + camera * 0.4).astype(np.uint16)
        samples["camera, high contrast"] = np.clip(
            (camera.astype(float) - 20000) * 2, 0, 65535
        ).astype(np.uint16)
    return samples


def photo_on_page() -> Gray:
    rng = np.random.default_rng(8)
    page = np.ones((900, 700))
    page[200:500, 150:550] = np.clip(0.5 + 0.2 * soft_noise(rng, (300, 400), radius=12), 0, 1)
    return page
