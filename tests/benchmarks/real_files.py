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
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Sequence
from pathlib import Path

from PIL import Image, ImageDraw

sys.path.insert(0, str(Path(__file__).parents[1] / "outside"))

from real_set import CACHE, PROFILE, Outcome, half, outcomes, there
from seen_from_afar import SIDE, art_thumbnail, from_afar, shapes_lost, similarity

_A_SHEET, _COLUMNS = 30, 5
_LEAST_ALIKE = 40
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
        silent(found, wishes.folder)
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


def silent(found: Sequence[Outcome], folder: Path) -> None:
    """Print the films that lost most shapes of their art, and whether they say so."""
    lost = [(shapes_lost(one, folder) or 0.0, number) for number, one in enumerate(found)]
    print("\nshapes lost, seen from afar")
    for share, number in sorted(lost, reverse=True)[:_LEAST_ALIKE]:
        one = found[number]
        told = "told" if one.tells_of_loss else "SILENT"
        print(f"{number} {one.label.file_name} ({one.word}): {100 * share:.0f} %, {told}")


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
    wide, high = 2 * SIDE + 14, SIDE + 32
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
            sheet.paste(from_afar(one), (left + SIDE + 4, top + 28))
    return sheet


if __name__ == "__main__":
    main()
