"""What becomes of real pictures: a table, each wrong film, a CSV and contact sheets to look at.

    python tests/real/fetch.py
    python tests/benchmarks/real_files.py --jobs 2 --out FOLDER

Every file of ``tests/real/labels.tsv`` that is there goes through the program with a shipped
profile. Printed are how often its treatment was the one that eyes chose, label against outcome by
kind, and the wrong ones. ``FOLDER`` gets ``outcomes.csv`` and ``sheet-1.png`` and so on, thirty
pictures a sheet: the art at the left, and at the right its film as seen from afar. The films that
resemble their art least are printed too, by scikit-image's structural similarity of those two (the
measure of Wang and others, 2004), beside the program's own ``likeness`` where its records have it.

Runs the half that is not held back, with ``--held`` the other. What comes out of that one must not
be used to change how art is judged.
"""

from __future__ import annotations

import argparse
import csv
import gzip
import sys
import time
import warnings
from collections import Counter, defaultdict
from collections.abc import Sequence
from io import BytesIO
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageOps
from skimage.feature import match_template
from skimage.filters import gaussian
from skimage.metrics import structural_similarity

sys.path.insert(0, str(Path(__file__).parents[1] / "outside"))

from real_set import CACHE, PROFILE, Outcome, half, outcomes, there

_A_SHEET, _COLUMNS = 30, 5
_SIDE = 230  # of a picture on a contact sheet, in pixels
_LEAST_ALIKE = 40
_MARGIN = 0.04
_ORDER = ["right", "wrong", "called damaged", "not read"]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--folder", type=Path, default=CACHE, help="where the pictures are")
    parser.add_argument("--profile", type=Path, default=PROFILE)
    parser.add_argument("--out", type=Path, help="where CSV and contact sheets go")
    parser.add_argument("--jobs", type=int, default=1, help="how many at once")
    parser.add_argument("--held", action="store_true", help="the half that is held back")
    parser.add_argument("--only", default="", help="only files with this in their name or kind")
    wishes = parser.parse_args()
    rows = [
        row
        for row in there(half(held=wishes.held), wishes.folder)
        if wishes.only in row.file_name or wishes.only == row.kind
    ]
    if wishes.out is not None:
        wishes.out.mkdir(parents=True, exist_ok=True)
    begun = time.monotonic()
    found = outcomes(
        rows, folder=wishes.folder, profile=wishes.profile, out=wishes.out, jobs=wishes.jobs
    )
    print(f"{len(found)} files in {time.monotonic() - begun:.0f} s")
    summary(found)
    if wishes.out is not None:
        alike = [similarity(one, wishes.folder) for one in found]
        least_alike(found, alike)
        write_csv(found, alike, wishes.out / "outcomes.csv")
        for first in range(0, len(found), _A_SHEET):
            sheet = contact_sheet(found[first : first + _A_SHEET], wishes.folder, first)
            sheet.save(wishes.out / f"sheet-{first // _A_SHEET + 1}.png")


def judged(one: Outcome) -> str:
    """One of four words on an outcome."""
    if one.is_right:
        return "right"
    if one.is_false_alarm:
        return "called damaged"
    return "not read" if one.is_shut_out else "wrong"


def summary(found: Sequence[Outcome]) -> None:
    """Print the shares, label against outcome, and what is not right."""
    counts = Counter(judged(one) for one in found)
    by_kind: defaultdict[str, Counter[str]] = defaultdict(Counter)
    for one in found:
        by_kind[one.label.kind][judged(one)] += 1
    print(", ".join(f"{word}: {counts[word]}" for word in _ORDER))
    print("\n| kind | " + " | ".join(_ORDER) + " |\n|" + "---|" * (len(_ORDER) + 1))
    for kind, each in sorted(by_kind.items()):
        print(f"| {kind} | " + " | ".join(str(each[word] or "") for word in _ORDER) + " |")
    crossed = Counter((one.label.treatment, one.word) for one in found)
    words = sorted({word for _, word in crossed})
    print("\n| label | " + " | ".join(words) + " |\n|" + "---|" * (len(words) + 1))
    for treatment in sorted({treatment for treatment, _ in crossed}):
        cells = " | ".join(str(crossed[treatment, word] or "") for word in words)
        print(f"| {treatment} | {cells} |")
    print()
    for number, one in enumerate(found):
        if not one.is_right:
            print(f"{number} {one.label.file_name} ({one.label.kind}): {one.word}, not", end=" ")
            print(f"{one.label.treatment}; must show {one.label.must_show}. {one.says[:300]}")


def least_alike(found: Sequence[Outcome], alike: Sequence[float | None]) -> None:
    """Print the films that resemble their art least, with their own ``likeness``."""
    rows = [(value, number) for number, value in enumerate(alike) if value is not None]
    print("\nleast alike from afar")
    for value, number in sorted(rows)[:_LEAST_ALIKE]:
        one = found[number]
        print(
            f"{number} {one.label.file_name} ({one.label.kind}, {one.word}): {value:.2f}", end=" "
        )
        print(one.record.get("likeness", ""), one.label.must_show)


def write_csv(found: Sequence[Outcome], alike: Sequence[float | None], target: Path) -> None:
    """One row a file, with what eyes saw and what came out."""
    with target.open("w", encoding="utf-8", newline="") as lines:
        rows = csv.writer(lines)
        head = ["number", "file", "package", "kind", "label", "outcome", "judged", "taken for"]
        rows.writerow([*head, "alike", "likeness", "must show", "says"])
        for number, one in enumerate(found):
            label = one.label
            rows.writerow(
                [
                    number,
                    label.file_name,
                    label.package,
                    label.kind,
                    label.treatment,
                    one.word,
                    judged(one),
                    one.record.get("art", {}).get("kind", ""),
                    alike[number],
                    one.record.get("likeness", ""),
                    label.must_show,
                    one.says,
                ]
            )


# --- contact sheets ------------------------------------------------------------------------------


def contact_sheet(found: Sequence[Outcome], folder: Path, first: int) -> Image.Image:
    """The art of each beside its film as seen from afar, with number, name and outcome."""
    wide, high = 2 * _SIDE + 14, _SIDE + 32
    lines = -(-len(found) // _COLUMNS)
    sheet = Image.new("RGB", (_COLUMNS * wide, lines * high), (120, 130, 140))
    draw = ImageDraw.Draw(sheet)
    for place, one in enumerate(found):
        left, top = place % _COLUMNS * wide + 4, place // _COLUMNS * high
        color = "white" if one.is_right else "yellow"
        draw.text((left, top + 2), f"{first + place} {one.label.file_name[17:70]}", fill=color)
        says = f"{one.label.kind}, {one.label.treatment}: {one.word}"
        draw.text((left, top + 14), says, fill=color)
        sheet.paste(art_thumbnail(folder / one.label.file_name), (left, top + 28))
        if one.film is not None:
            sheet.paste(from_afar(one), (left + _SIDE + 4, top + 28))
    return sheet


def from_afar(one: Outcome, margin: float = 0.0) -> Image.Image:
    """The film's bits averaged, turned as the art lies, with this share of the art around it."""
    assert one.film is not None
    with Image.open(one.film) as opened:
        gray = opened.convert("L")
    art, dpi = one.record["art"], one.record["film"]["dpi"]
    size = [art[key] / 25.4 * ppi for key, ppi in zip(("width_mm", "height_mm"), dpi, strict=True)]
    if art["copies"] is None:
        edges = [round((whole - part) / 2) for whole, part in zip(gray.size, size, strict=True)]
        more = round(margin * max(size))
        left, top = (edge - more for edge in edges)
        gray = ImageOps.invert(gray).crop((left, top, gray.width - left, gray.height - top))
        gray = ImageOps.invert(gray)
    side = _SIDE * (1 + 2 * margin)
    gray.thumbnail((round(side), round(side)), Image.Resampling.BOX, reducing_gap=None)
    return gray.rotate(-art["turned"], expand=True).convert("RGB")


def similarity(one: Outcome, folder: Path) -> float | None:
    """Structural similarity of art and film from afar where they fit best; 1 if they are the same.

    None where no film was made, or the art is too small or cannot be opened here.
    """
    art = art_thumbnail(folder / one.label.file_name).convert("L")
    if one.film is None or min(art.size) < 32:
        return None
    film = from_afar(one, _MARGIN).convert("L")
    wanted = [round(side * (1 + 2 * _MARGIN * max(art.size) / side)) for side in art.size]
    film = film.resize((wanted[0], wanted[1]), Image.Resampling.BOX)
    seen, shown = (gaussian(np.asarray(side, dtype=float), 1.0) for side in (art, film))
    fit = np.nan_to_num(match_template(shown, seen))
    top, left = np.unravel_index(int(np.argmax(fit)), fit.shape)
    shown = shown[top : top + seen.shape[0], left : left + seen.shape[1]]
    return round(float(structural_similarity(seen, shown, data_range=255)), 3)


def art_thumbnail(path: Path) -> Image.Image:
    """The art on white, drawn by other libraries; an empty field where they cannot."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            art = ImageOps.exif_transpose(_opened(path))
            if art.mode.startswith("I") or art.mode == "F":
                deep = np.asarray(art, dtype=float)
                deep = (deep - deep.min()) / (np.ptp(deep) or 1)
                art = Image.fromarray((deep * 255).astype(np.uint8))
            art = art.convert("RGBA")
            white = Image.new("RGBA", art.size, "white")
            art = Image.alpha_composite(white, art).convert("RGB")
        except Exception:  # whatever a broken file makes of a decoder
            art = Image.new("RGB", (_SIDE, _SIDE), (90, 60, 60))
    art.thumbnail((_SIDE, _SIDE), Image.Resampling.LANCZOS)
    return art


def _opened(path: Path) -> Image.Image:
    if path.suffix == ".pdf":
        import pypdfium2

        page = pypdfium2.PdfDocument(path)[0]
        return page.render(scale=2 * _SIDE / max(page.get_size())).to_pil()
    if path.suffix in {".svg", ".svgz"}:
        import resvg_py

        data = path.read_bytes()
        text = (gzip.decompress(data) if data[:2] == b"\x1f\x8b" else data).decode()
        return Image.open(BytesIO(bytes(resvg_py.svg_to_bytes(svg_string=text, dpi=96))))
    return Image.open(path)


if __name__ == "__main__":
    main()
