"""``filmhand guide``: the longer pages, and where a word stands in them."""

from __future__ import annotations

import dataclasses
import re
import shutil
import sys
import textwrap
from collections.abc import Sequence
from itertools import groupby

import click

from filmhand.cli import options
from filmhand.cli.cli_words import CommandCount, CommandWord
from filmhand.cli.commands import command
from filmhand.cli.help_words import HelpWord
from filmhand.errors import ExitCode
from filmhand.service.terminal import is_terminal

_MOST_HITS = 12
_GLOSSARY_CELLS = 3
_LONGEST_HIT = 240  # letters of a paragraph that is found
INDEX = "index"
"""The page that is made of the others."""


@command(HelpWord.GUIDE, "filmhand guide dot gain")
@click.argument("words", nargs=-1, metavar="[PAGE | WORD...]")
@options.json_option
def guide(words: Sequence[str], *, as_json: bool) -> ExitCode:
    """Show all names of pages, one page, or where words stand in them."""
    from filmhand import guide as pages  # noqa: PLC0415

    names = pages.page_names()
    if as_json or not words:
        return _search(words, as_json=True) if words else _list_pages(names, as_json=as_json)
    if words == (INDEX,):
        _show(pages.index_page())
    elif len(words) == 1 and words[0].lower() in dict(names):
        _show(pages.read_page(words[0].lower()))
    else:
        return _search(words, as_json=False)
    return ExitCode.DONE


def _list_pages(names: Sequence[tuple[str, str]], *, as_json: bool) -> ExitCode:
    if as_json:
        options.print_json([{"page": name, "title": title} for name, title in names])
        return ExitCode.DONE
    for name, title in names:
        click.echo(f"{name:16} {title}")
    click.echo(f"{INDEX:16} {CommandWord.INDEX.say()}")
    click.echo(f"\n{CommandWord.SHOW_OR_LOOK_UP.say()}")
    return ExitCode.DONE


def _show(page: str) -> None:
    """On a terminal no wider than that; for other programs the page as it is written."""
    if is_terminal(sys.stdout):
        from filmhand.cli.page_on_terminal import page_on_terminal  # noqa: PLC0415

        page = page_on_terminal(page, columns=shutil.get_terminal_size().columns)
    options.echo_styled(page)


def _search(words: Sequence[str], *, as_json: bool) -> ExitCode:
    from filmhand import guide as pages  # noqa: PLC0415
    from filmhand.guide.search import find_in_guide, nearest_words, pages_named  # noqa: PLC0415

    words = [part for word in words for part in word.split()]
    named, hits = pages_named(words), find_in_guide(words)
    if as_json:
        options.print_json([dataclasses.asdict(hit) for hit in hits])
        return ExitCode.DONE if hits else ExitCode.REFUSED
    if not named and not hits:
        near = nearest_words(words)
        row = CommandWord.STANDS_NOWHERE_BUT if near else CommandWord.STANDS_NOWHERE
        options.say_error(row.say(words=" ".join(words), near=", ".join(near)))
        return ExitCode.REFUSED
    for name, title in named:
        options.echo_styled(f"{click.style(name, bold=True)}: {title}")
    width = min(shutil.get_terminal_size().columns, 88)
    for (page, section), found in groupby(
        hits[:_MOST_HITS], key=lambda hit: (hit.page, hit.section)
    ):
        options.echo_styled(f"\n{click.style(page, bold=True)}, {section}")
        for hit in found:
            text = textwrap.shorten(
                _as_said(hit.text, glossary=page == pages.GLOSSARY), _LONGEST_HIT, placeholder=" …"
            )
            for line in textwrap.wrap(text, width - 2):
                click.echo(f"  {line}")
    if len(hits) > _MOST_HITS:
        click.echo(f"\n{CommandCount.MORE_PLACES.say(len(hits) - _MOST_HITS)}")
    click.echo(f"\n{CommandWord.SHOW_A_PAGE.say()}")
    return ExitCode.DONE


def _as_said(text: str, *, glossary: bool) -> str:
    """A paragraph as a line, and a row of the glossary as what leads where."""
    cells = [cell.strip() for cell in text.strip("|").split("|") if cell.strip()]
    if glossary and len(cells) == _GLOSSARY_CELLS:
        word, meaning, page = cells
        return CommandWord.ON_PAGE.say(word=word, meaning=meaning, page=page)
    line = re.sub(r"(?:^|\s)> ?", " ", ", ".join(cells).removeprefix("- ")).strip()
    # Of a picture what it is of, of a link its words, and what is printed bold without its marks.
    return re.sub(r"!?\[([^]]+)\]\([^)]+\)|\*\*(.+?)\*\*", r"\1\2", line)
