"""How far expected prints are from the art that they were separated from, in CIEDE2000.

Photographs are open ones of scikit-image; the plain way is one minus each code, its gray in black.
Needs scikit-image and SciPy::

    python tests/benchmarks/recombination.py
    python tests/benchmarks/recombination.py made
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from itertools import chain
from pathlib import Path
from tempfile import TemporaryDirectory

sys.path.insert(0, str(Path(__file__).parents[1] / "outside"))

from film_set_cases import drawing_films, made_row, photograph_films
from recombination_cases import PICTURES, Row, all_rows


def film_rows() -> Iterator[Row]:
    """The same of finished films, dot by dot."""
    with TemporaryDirectory() as folder:
        yield drawing_films(Path(folder))
        for name in PICTURES:
            yield photograph_films(Path(folder), name)[0]


THREE_INKS = (
    "[{name: red, color: '#b3261e'}, {name: blue, color: '#1d3f9c'}, "
    "{name: yellow, color: '#f2c418'}]"
)


def made_rows() -> Iterator[Row]:
    """Sets as any job makes them, to a sheet of five inches at 600 dpi and 45 lpi."""
    with TemporaryDirectory() as folder:
        yield made_row(Path(folder), "drawing", THREE_INKS, "its three inks")
        for name in PICTURES:
            yield made_row(Path(folder), name, "process", "process inks")


def main() -> None:
    """Print a table, one row a case; with ``made`` that of the guide."""
    if sys.argv[1:] == ["made"]:
        print("| art | inks | mean | 95 of 100 places |")
        print("|---|---|---|---|")
        for row in made_rows():
            print(f"| {row.art} | {row.inks} | {row.found.mean:.1f} | {row.found.p95:.1f} |")
        return
    print("| art | inks | mean | 95 of 100 | plain: mean | plain: 95 of 100 |")
    print("|---|---|---|---|---|---|")
    for row in chain(all_rows(), film_rows()):
        cells = [row.found.mean, row.found.p95]
        cells += [row.plain.mean, row.plain.p95] if row.plain else []
        numbers = [f"{value:.1f}" for value in cells] + [""] * (4 - len(cells))
        print(f"| {' | '.join([row.art, row.inks, *numbers])} |")


if __name__ == "__main__":
    main()
