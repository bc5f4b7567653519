"""The refusals that the guide quotes are sentences that filmhand says."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from string import Formatter

import pytest

import catalogs
import filmhand
from filmhand.errors import RefusalSentence
from filmhand.language import Counted

GUIDE = Path(filmhand.__file__).parent / "guide"
_WORDS = 5  # from which on a row is a sentence; what has fewer would fit any


def pattern(row: str) -> str:
    """What a row says, whatever its parts are."""
    return "".join(
        re.escape(text) + (".*" if part is not None else "")
        for text, part, _, _ in Formatter().parse(row)
    )


def sentences() -> Iterator[str]:
    """What was found, of each refusal, and all other sentences."""
    for table in catalogs.tables():
        for row in () if issubclass(table, Counted) else table:
            text = next(catalogs.texts(row))
            assert isinstance(text, str)
            plain = "".join(plain for plain, *_ in Formatter().parse(text))
            if issubclass(table, RefusalSentence) or len(plain.split()) >= _WORDS:
                yield pattern(text)


def quotes(page: str) -> list[str]:
    """The paragraphs that a page quotes, each in one line."""
    text = (GUIDE / page).read_text(encoding="utf-8")
    return [
        " ".join(line.removeprefix("> ") for line in quote.splitlines())
        for quote in re.findall(r"(?m)(?:^> .*\n)+", text)
    ]


QUOTES = quotes("50-refusals.md")


def test_the_guide_quotes_refusals() -> None:
    assert len(QUOTES) > 20


@pytest.mark.parametrize("quote", QUOTES)
def test_a_refusal_in_the_guide_is_one_that_is_said(quote: str) -> None:
    assert any(re.fullmatch(one, quote) for one in sentences())


def test_a_sentence_that_nobody_says_is_noticed() -> None:
    told = "At the size asked for, the art is too large for this sheet."
    assert not any(re.fullmatch(one, told) for one in sentences())
