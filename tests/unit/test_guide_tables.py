"""The guide's tables are those of the registries, row by row."""

from __future__ import annotations

from pathlib import Path

import filmhand
from filmhand.film.formats import Format
from filmhand.screen.dot_shapes import Dot

GUIDE = Path(filmhand.__file__).parent / "guide"


def table(page: str, head: str) -> list[str]:
    """The rows of the page's table with this head, without its rule."""
    lines = (GUIDE / page).read_text(encoding="utf-8").splitlines()
    first = lines.index(head) + 2
    return lines[first : lines.index("", first)]


def test_dot_shapes() -> None:
    rows = [
        f"| `{dot}{' ...' if dot.own else ''}` | {dot.row.meets} | {dot.row.use} |" for dot in Dot
    ]
    assert table("25-dots.md", "| `dot` | neighbors meet at | what it is good for |") == rows


def test_film_formats() -> None:
    rows = [f"| `{kind}` | `{kind.suffix}` | {kind.use} |" for kind in Format]
    assert table("70-film.md", "| `write` | ends in | what for |") == rows
