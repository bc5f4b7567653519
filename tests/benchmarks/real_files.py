"""What becomes of real pictures: a table, each wrong film, a CSV and contact sheets to look at.

    python tests/real/fetch.py
    python tests/benchmarks/real_files.py --jobs 2 --out FOLDER

Every file of ``tests/real/labels.tsv`` that is there goes through the program with a shipped
profile. Printed are how often its treatment was the one that eyes chose, label against outcome by
kind, and the wrong ones. ``FOLDER`` gets ``outcomes.csv`` and ``sheet-1.png`` and so on, thirty
pictures a sheet: the art at the left, and at the right its film as seen from afar.

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

sys.path.insert(0, str(Path(__file__).parents[1] / "outside"))

from real_set import CACHE, PROFILE, Outcome, outcomes, there

_A_SHEET, _COLUMNS = 30, 5
_SIDE = 230  # of a picture on a contact sheet, in pixels
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
        for row in there(held=wishes.held, folder=wishes.folder)
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
        write_csv(found, wishes.out / "outcomes.csv")
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
    likeness = [one for one in found if one.record.get("likeness")]
    if likeness:
        print("\nlikeness, the most lost first")
        for one in sorted(likeness, key=_lost, reverse=True)[:30]:
            print(f"{one.label.file_name}: {one.treated}, {one.record['likeness']}")
    print()
    for number, one in enumerate(found):
        if not one.is_right:
            print(f"{number} {one.label.file_name} ({one.label.kind}): {one.word}, not", end=" ")
            print(f"{one.label.treatment}; must show {one.label.must_show}. {one.says[:300]}")


def _lost(one: Outcome) -> float:
    return float(one.record["likeness"].get("lost_pct") or 0)


def write_csv(found: Sequence[Outcome], target: Path) -> None:
    """One row a file, with what eyes saw and what came out."""
    with target.open("w", encoding="utf-8", newline="") as lines:
        rows = csv.writer(lines)
        head = ["number", "file", "package", "kind", "label", "outcome", "judged", "taken for"]
        rows.writerow([*head, "likeness", "must show", "says"])
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


def from_afar(one: Outcome) -> Image.Image:
    """The film's bits averaged, turned as the art lies, without label and marks."""
    assert one.film is not None
    with Image.open(one.film) as opened:
        gray = opened.convert("L")
    art, dpi = one.record["art"], one.record["film"]["dpi"]
    size = [
        round(art[key] / 25.4 * ppi)
        for key, ppi in zip(("width_mm", "height_mm"), dpi, strict=True)
    ]
    if art["copies"] is None:
        left, top = ((whole - part) // 2 for whole, part in zip(gray.size, size, strict=True))
        gray = gray.crop((left, top, left + size[0], top + size[1]))
    gray.thumbnail((_SIDE, _SIDE), Image.Resampling.BOX, reducing_gap=None)
    return gray.rotate(-art["turned"], expand=True).convert("RGB")


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
