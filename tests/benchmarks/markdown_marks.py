"""Parts of Markdown pages that a command writes, between two marks that name them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path


def marks(name: str) -> tuple[str, str]:
    """The lines before and after a part."""
    return f"<!-- {name}: begin -->", f"<!-- {name}: end -->"


def fill_marks(pages: Sequence[Path], parts: Mapping[str, Sequence[str]]) -> None:
    """Put the lines of each part in place of what stands between its marks on each page.

    SystemExit where a page has the marks of none of them.
    """
    for page in pages:
        text, found = page.read_text(encoding="utf-8"), False
        for name, lines in parts.items():
            begin, end = marks(name)
            if begin in text:
                before, after = text.split(begin)[0], text.split(end)[1]
                text = "\n".join([before + begin, *lines, end + after])
                found = True
        if not found:
            raise SystemExit(f"{page} has no marks of {', '.join(parts)}")
        page.write_text(text, encoding="utf-8")
