"""Answers and options as people type them, made into what a profile reads.

A question that asks for dots to the inch is answered with ``600dpi``, and one for an edge with
``1/4"``: a unit that is the one asked for is taken, and a length is written as a profile has it.
The unit of a length, where it is missing, is never guessed.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from fractions import Fraction
from typing import Any, Final

import click

from filmhand.cli.cli_words import CommandWord
from filmhand.language import or_list
from filmhand.values import dataclass

# English and Spanish, the languages that the questions are asked in.
_AN_INCH: Final = r"(?:per|to the|an|a|por) (?:inch|pulgada)"
DPI_UNIT: Final = rf"dpi|ppi|ppp|(?:dots|puntos) {_AN_INCH}"
THREADS_UNIT: Final = rf"mesh|tpi|t/in|(?:threads|hilos)(?: {_AN_INCH})?"
LPI_UNIT: Final = rf"lpi|lpp|(?:lines|l\u00edneas) {_AN_INCH}"
DEGREES_UNIT: Final = "\u00b0|deg|degrees?|grados?"

_LENGTHS: Final = {
    "in": "in\\.?|inch(?:es)?|pulgadas?|\"|''|\u201d|\u2033",
    "mm": "mm|millimet(?:er|re)s?|mil\u00edmetros?",
    "cm": "cm|centimet(?:er|re)s?|cent\u00edmetros?",
    "pt": "pt",
}
_VULGAR: Final = str.maketrans({"\u00bc": " 1/4", "\u00bd": " 1/2", "\u00be": " 3/4"})
_NUMBER: Final = r"(?:\d+(?:\.\d+)?|\.\d+)"
_BARE: Final = re.compile(rf"{_NUMBER}(?:(?: x |, | ){_NUMBER})*")
_LONGEST_IN: Final = 60.0  # no sheet of film is longer in inches, and none so short in millimeters


def without_unit(given: str, unit: str) -> str:
    """The answer without the unit that was asked for.

    >>> without_unit("600 x 1200dpi", DPI_UNIT), without_unit("110 Mesh", THREADS_UNIT)
    ('600 x 1200', '110')
    """
    return re.sub(rf"(?<=\d) ?(?:{unit})$", "", given, flags=re.IGNORECASE)


def plain_lengths(given: str) -> str:
    """Lengths as a profile has them: decimal numbers, each with the short name of its unit.

    >>> plain_lengths('1/4"'), plain_lengths("8 1/2 x 11 inches"), plain_lengths("0,25 in")
    ('0.25 in', '8.5 x 11 in', '0.25 in')
    """
    text = given.translate(_VULGAR).strip()
    for unit, names in _LENGTHS.items():
        text = re.sub(
            rf"(?<=\d) ?(?:{names})(?=$|[ ,x\u00d7])", f" {unit}", text, flags=re.IGNORECASE
        )
    text = re.sub(r"(?:(\d+)[ -]+)?(\d+)/([1-9]\d*)", _decimal, text)
    text = re.sub(r" ?[x\u00d7] ?", " x ", text, flags=re.IGNORECASE)
    sides = text.split(" x ")
    return " x ".join(re.sub(r"^(\d+),(\d+)(?= [a-z]+$|$)", r"\1.\2", side) for side in sides)


def _decimal(found: re.Match[str]) -> str:
    whole, above, below = (int(part or 0) for part in found.groups())
    return f"{float(whole + Fraction(above, below)):.4f}".rstrip("0").rstrip(".")


def edge_units(_longest: float) -> tuple[str, ...]:
    """The units in which a margin may be meant."""
    return ("in", "mm")


def sheet_units(longest: float) -> tuple[str, ...]:
    """The units in which a sheet with so long a side may be meant."""
    return ("in", "cm") if longest <= _LONGEST_IN else ("mm",)


@dataclass(frozen=True, slots=True)
class Answer:
    """How the answer to a question, or the option in its place, is read.

    Parameters
    ----------
    read : the reader of the profile's key
    unit : the unit that is asked for, which may be typed or not
    lengths : for lengths, the units in which a bare number may be meant
    """

    read: Callable[[Any], object]
    unit: str = ""
    lengths: Callable[[float], tuple[str, ...]] | None = None

    def take(self, answer: Any) -> str:
        """For click: the answer as a profile has it, or else a sentence on what is allowed."""
        given = " ".join(str(answer).split())
        text = without_unit(given, self.unit) if self.unit else given
        if self.lengths is not None:
            text = plain_lengths(given)
        try:
            self.read(int(text) if text.isdigit() else text)
        except ValueError as error:
            raise click.BadParameter(self._fault(given, text, error)) from None
        return text

    def _fault(self, given: str, text: str, error: ValueError) -> str:
        if self.lengths is None or not _BARE.fullmatch(text):
            return CommandWord.CANNOT_BE_READ.say(given=given, allowed=error)
        units = self.lengths(max(map(float, re.findall(_NUMBER, text))))
        # The unit behind a width and a height is that of both; each edge has its own.
        each = re.compile(rf"{_NUMBER}(?! x |[\d.])")
        ways = [each.sub(rf"\g<0> {unit}", text) for unit in units]
        return CommandWord.UNIT_MISSING.say(given=given, ways=or_list(ways))


class NumberOf(click.FloatRange):
    """A number within a range, with or without the unit that is asked for."""

    def __init__(self, unit: str, low: float, high: float) -> None:
        """Take the unit and the range."""
        super().__init__(low, high)
        self.unit = unit

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The number."""
        bare: Any = without_unit(str(value).strip(), self.unit)
        return super().convert(bare, param, ctx)
