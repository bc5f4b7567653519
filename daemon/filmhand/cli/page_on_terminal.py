"""A page of the guide as lines of a terminal: what our pages use of Markdown, and no more.

A library for this, with the parser and the highlighter that come with it, is larger than all of
filmhand; the pages have headings, paragraphs, lists, tables, examples, quotes and pictures.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator, Mapping
from typing import Any

import click

from filmhand.cli.cli_words import CommandWord
from filmhand.guide import picture_path

_WIDEST = 88  # what is wider is hard to read
_NARROWEST_CELL = 9
_GAP = 2
_ITEM = re.compile(r"\s*(?:- |\d+\. )")
_PICTURE = re.compile(r"!\[(.+)\]\((.+)\)")
_STYLES: Mapping[str, Mapping[str, Any]] = {
    "**": {"bold": True},
    "*": {"underline": True},
    "`": {"fg": "cyan"},
}
_MARKED = re.compile(r"(\*\*|`|(?<![\w*])\*(?=\w))(.+?)\1")


def page_on_terminal(page: str, *, columns: int) -> str:
    """The page in lines no wider than the terminal, with the terminal's own codes for emphasis."""
    width = max(20, min(columns, _WIDEST))
    return "\n".join(line for block in _blocks(page) for line in [*_shown(block, width), ""])


def _blocks(page: str) -> Iterator[list[str]]:
    """Lines that belong together: each item of a list is one, and so is a whole table."""
    block: list[str] = []
    for line in [*page.splitlines(), ""]:
        example = line.startswith("    ") and (not block or block[0].startswith("    "))
        ends = not line.strip() or line.startswith("#") or (bool(_ITEM.match(line)) and not example)
        if block and ends and not (block[0].startswith("    ") and not line.strip()):
            yield block
            block = []
        if block and block[0].startswith("    ") and line.strip() and not example:
            yield block
            block = []
        if line.strip() or block:
            block.append(line)
        if line.startswith("#"):
            yield block
            block = []
    if any(line.strip() for line in block):
        yield block


def _shown(block: list[str], width: int) -> list[str]:
    first = block[0]
    if first.startswith("|"):
        return _table(block, width)
    if first.startswith("    "):
        return _example(block, width)
    return _text(block, width)


def _example(block: list[str], width: int) -> list[str]:
    lines = "\n".join(block).rstrip().splitlines()
    return [
        part
        for line in lines
        for part in textwrap.wrap(
            line, width, subsequent_indent=" " * 8, drop_whitespace=False, replace_whitespace=False
        )
        or [""]
    ]


def _text(block: list[str], width: int) -> list[str]:
    first, text = block[0], " ".join(line.strip() for line in block)
    if first.startswith("#"):
        level = len(first) - len(first.lstrip("#"))
        lines = textwrap.wrap(first.lstrip("# "), width)
        rule = {1: "=", 2: "-"}.get(level)
        return [_styled(line, bold=True) for line in lines] + (
            [rule * max(map(len, lines))] if rule else []
        )
    picture = _PICTURE.fullmatch(text)
    if picture:
        return [
            *_wrapped(CommandWord.PICTURE.say(picture=picture[1]), width),
            f"  {picture_path(picture[2])}",
        ]
    if first.startswith(">"):
        return _wrapped(re.sub(r"(?:^|\s)> ?", " ", text).strip(), width, first="  | ", rest="  | ")
    item = _ITEM.match(first)
    if item:
        head = item[0].strip() + " "
        return _wrapped(text[len(head) :].strip(), width, first=head, rest=" " * len(head))
    return _wrapped(text, width)


def _wrapped(text: str, width: int, *, first: str = "", rest: str = "") -> list[str]:
    """The text's lines; its marks are counted as the nothing that is shown of them."""
    plain = re.sub(r"\[([^]]+)\]\(([^)]+)\)", r"\1 (\2)", text)
    kinds: list[str] = []

    def hide(found: re.Match[str]) -> str:
        kinds.append(found[1])
        return f"\0{found[2]}\1"

    lines = textwrap.wrap(
        _MARKED.sub(hide, plain),
        width,
        initial_indent=first,
        subsequent_indent=rest,
        break_on_hyphens=False,
    )
    return _with_styles(lines, kinds)


def _with_styles(lines: list[str], kinds: list[str]) -> list[str]:
    """Put the terminal's codes where emphasis begins and ends, on every line that it covers."""
    shown, styles, inside = [], iter(kinds), ""
    for line in lines:
        parts = []
        for piece in re.split(r"([\0\1])", line):
            if piece == "\0":
                inside = next(styles)
            elif piece == "\1":
                inside = ""
            else:
                parts.append(_styled(piece, **_STYLES[inside]) if inside and piece else piece)
        shown.append("".join(parts))
    return shown


def _styled(text: str, **how: Any) -> str:
    indent = len(text) - len(text.lstrip())
    return text[:indent] + click.style(text[indent:], **how)


def _table(block: list[str], width: int) -> list[str]:
    rows = [
        [_plain(cell) for cell in re.split(r"(?<!\\)\|", line.strip().strip("|"))]
        for line in block
        if not re.fullmatch(r"\|[-:| ]+\|", line.strip())
    ]
    count = max(map(len, rows))
    rows = [row + [""] * (count - len(row)) for row in rows]
    widths = [max(len(row[n]) for row in rows) for n in range(count)]
    room = width - _GAP * (count - 1)
    if count * _NARROWEST_CELL > room:
        return _as_list(rows, width)
    while sum(widths) > room:
        widths[widths.index(max(widths))] -= 1
    lines = []
    for place, row in enumerate(rows):
        cells = [textwrap.wrap(cell, size) or [""] for cell, size in zip(row, widths, strict=True)]
        for n in range(max(map(len, cells))):
            parts = [
                (cell[n] if n < len(cell) else "").ljust(size)
                for cell, size in zip(cells, widths, strict=True)
            ]
            lines.append((" " * _GAP).join(parts).rstrip())
        if place == 0:
            lines = [_styled(line, bold=True) for line in lines]
            lines.append((" " * _GAP).join("-" * size for size in widths))
    return lines


def _as_list(rows: list[list[str]], width: int) -> list[str]:
    """A table for a terminal that has no room for one: each row's cells below one another."""
    lines = []
    for row in rows[1:]:
        for head, cell in zip(rows[0], row, strict=True):
            if cell:
                lines += textwrap.wrap(f"{head}: {cell}", width, subsequent_indent="  ")
        lines.append("")
    return lines[:-1]


def _plain(text: str) -> str:
    return _MARKED.sub(r"\2", re.sub(r"\[([^]]+)\]\([^)]+\)", r"\1", text)).strip()
