"""What one wish in a name looks like: the words, numbers and units that people write for it."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterator
from typing import Final

from filmhand.profile.read.document import Path, Plain
from filmhand.profile.read.hints import american
from filmhand.profile.ticket.pages import PAGES, read_pages
from filmhand.profile.ticket.ticket_words import WishWord
from filmhand.screen.dot_shapes import Dot
from filmhand.units import SHEETS_MM
from filmhand.values import dataclass


@dataclass(frozen=True, slots=True)
class Wish:
    """One wish: the key of a ticket, its value, the wish as one writes it, and in plain words.

    The plain words are a row of their table, and its part.
    """

    path: Path
    value: Plain
    written: str
    row: WishWord
    part: str = ""

    @property
    def words(self) -> str:
        """The wish in plain words, in the language in force."""
        return self.row.say(part=self.part)


NUMBER = r"(?:\d{1,5}(?:\.\d{1,4}|,\d{1,2}(?!\d))?|\.\d{1,4})(?![.,]?\d)"
_NUMBER = f"({NUMBER})"
_UNITS: Final = {
    **dict.fromkeys(("in", "in.", "inch", "inches", '"', "\u201d", "\u201c", "''"), "in"),
    **dict.fromkeys(("\u2032\u2032", "\u2019\u2019"), "in"),
    **dict.fromkeys(("mm", "millimeter", "millimeters"), "mm"),
    **dict.fromkeys(("cm", "centimeter", "centimeters"), "cm"),
}
UNIT = "(" + "|".join(sorted(map(re.escape, _UNITS), key=len, reverse=True)) + ")"
_HIGH = ("h", "high", "height", "tall")
_LONGEST_TEXT = 1000
_SIDE = "(wide|width|w|high|height|tall|h)"
_BETWEEN = "(?:[ -]| ?[:=] ?)?"
_BY = "(?: ?[x\u00d7*] ?| by )"
_ENDS_WORD = r"(?![^\W_])"
SHAPES: Final = tuple(word for word in Dot.words() if word != "line")
_ANY_SHAPE = "|".join(Dot.words())

# ISO 216 (A sizes), ASME Y14.1 (letter, ledger, tabloid); legal: common practice, no source.
PAPERS: Final = {
    **{f"a{n}": f"{w} x {h} mm" for n, w, h in ((2, 420, 594), (5, 148, 210), (6, 105, 148))},
    **{name: f"{float(w):g} x {float(h):g} mm" for name, (w, h) in SHEETS_MM.items()},
    "legal": "8.5 x 14 in",
    "ledger": "17 x 11 in",
}


def _words(path: Path, value: Plain, row: WishWord, *written: str) -> dict[str, Wish]:
    return dict.fromkeys(written, Wish(path, value, written[0], row))


_FIXED: Final[dict[str, Wish]] = {
    **_words(("art", "treat"), "line", WishWord.LINE_ART, "line", "line art", "lineart",
             "line work"),
    **_words(("art", "treat"), "tone", WishWord.TONE, "tone", "tones", "halftone", "half tone"),
    **_words(("art", "fit"), "own", WishWord.OWN_SIZE, "own size", "actual size",
             "original size", "same size", "100 %", "100%"),
    **_words(("art", "fit"), "page", WishWord.FULL_PAGE, "full page", "fit page",
             "fit to page", "full sheet"),
    **_words(("film", "mirror"), True, WishWord.MIRROR, "mirror", "mirrored", "mirror image",
             "flip", "flipped"),
    **_words(("film", "negative"), True, WishWord.NEGATIVE, "negative", "inverted", "invert"),
    **_words(("film", "negative"), False, WishWord.POSITIVE, "positive"),
    **_words(("trial",), True, WishWord.TRIAL, "trial", "trial sheet"),
}  # fmt: skip


def _value(text: str) -> float:
    """As in a ticket, where 900 is no 900.0 in what is said of it."""
    value = float(text.replace(",", "."))
    return int(value) if value.is_integer() else value


def _plain(text: str) -> str:
    return f"{_value(text):g}"


def _length(number: str, unit: str) -> str:
    return f"{_plain(number)} {_UNITS[unit]}"


def _size(number: str, unit: str, side: str | None) -> Wish:
    high = side in _HIGH
    length = _length(number, unit)
    fit = f"{'height' if high else 'width'} {length}"
    written = f"{length} high" if high else length
    return Wish(("art", "fit"), fit, written, WishWord.HEIGHT if high else WishWord.WIDTH, length)


def box_wish(width: str, height: str) -> Wish:
    """What fits into two lengths, each a number, a blank and one of the units of a profile.

    >>> box_wish("7 in", "9 in").value, box_wish("7 in", "9 cm").value
    ('7 x 9 in', '7 in x 9 cm')
    """
    number, unit = width.split()
    fit = f"{number if height.endswith(' ' + unit) else width} x {height}"
    return Wish(("art", "fit"), fit, fit, WishWord.BOX, fit)


def _sides(found: re.Match[str]) -> Wish | None:
    """A box whose sides are named; None where both are the same one."""
    first, first_unit, side, second, second_unit, other = found.groups()
    if (side in _HIGH) == (other in _HIGH):
        return None
    sides = _length(first, first_unit), _length(second, second_unit)
    return box_wish(*(sides if other in _HIGH else reversed(sides)))


def _paper(found: re.Match[str]) -> Wish:
    name = found[1].upper() if found[1][1].isdigit() else found[1]
    return Wish(("art", "fit"), PAPERS[found[1]], name, WishWord.PAPER, name)


def _lpi(found: re.Match[str]) -> Wish:
    lpi = _plain(found[1])
    return Wish(("lpi",), _value(found[1]), f"{lpi} lpi", WishWord.LPI, lpi)


def _angle(found: re.Match[str]) -> Wish:
    angle = _plain(found[1])
    return Wish(("angle",), _value(found[1]), f"{angle} degrees", WishWord.ANGLE, angle)


def _threshold(found: re.Match[str]) -> Wish:
    threshold = _plain(found[1])
    written = f"threshold {threshold}"
    return Wish(("threshold",), _value(found[1]), written, WishWord.THRESHOLD, threshold)


def _copies(found: re.Match[str]) -> Wish:
    count = int(next(filter(None, found.groups())))
    return Wish(("copies",), count, f"x{count}", WishWord.COPIES, str(count))


def _dot(found: re.Match[str]) -> Wish:
    shape = next(filter(None, found.groups()))
    return Wish(("dot",), shape, f"{shape} dots", WishWord.DOTS, shape)


def _patch(found: re.Match[str]) -> Wish:
    patch = found[1].upper()
    return Wish(("patch",), patch, f"patch {patch}", WishWord.PATCH, patch)


# Compiled where a name or ticket has a wish: most have none.
_FORMS: Final[tuple[tuple[str, Callable[[re.Match[str]], Wish | None]], ...]] = (
    (rf"{_NUMBER}[ -]?{UNIT}(?:[ -]{_SIDE})?", lambda m: _size(m[1], m[2], m[3])),
    (rf"{_SIDE}{_BETWEEN}{_NUMBER}[ -]?{UNIT}", lambda m: _size(m[2], m[3], m[1])),
    (
        rf"{_NUMBER} ?{UNIT}?{_BY}{_NUMBER}[ -]?{UNIT}",
        lambda m: box_wish(_length(m[1], m[2] or m[4]), _length(m[3], m[4])),
    ),
    (rf"{_NUMBER} ?{UNIT} ?{_SIDE}{_BY}{_NUMBER} ?{UNIT} ?{_SIDE}", _sides),
    (f"({'|'.join(PAPERS)})(?: size| paper| sheet)?", _paper),
    (rf"{_NUMBER}[ -]?(?:lpi|lines per inch)", _lpi),
    (rf"lpi{_BETWEEN}{_NUMBER}", _lpi),
    (rf"(?:angle )?{_NUMBER} ?(?:degrees|degree|deg|\u00b0)(?: angle)?", _angle),
    (rf"angle{_BETWEEN}{_NUMBER}(?! ?(?:deg|\u00b0))", _angle),
    (rf"threshold{_BETWEEN}{_NUMBER}(?: ?%)?", _threshold),
    # "7 in x 3" may want either a box or copies, so a blank may follow the x at a start only.
    (
        r"[x\u00d7](\d{1,5})|(?:^|(?<=[,;])|(?<=[,;] ))[x\u00d7] (\d{1,5})"
        r"|(\d{1,5})[ -]?(?:copies|copy|films|sheets)"
        rf"|(?:copies|qty|quantity){_BETWEEN}(\d{{1,5}})",
        _copies,
    ),
    (r"patch ?([a-z][0-9]{1,2})", _patch),
    (rf"({_ANY_SHAPE})[ -]dots?|dots?{_BETWEEN}({_ANY_SHAPE})|({'|'.join(SHAPES)})", _dot),
)
_PAGES = rf"(?:pages?|pg|pp?\.?){_BETWEEN}((?:{PAGES})(?: ?,? (?:{PAGES})|,(?:{PAGES}))*)"


def normal(text: str) -> str:
    """The text as wishes are read: lower case, American, plain digits, single blanks.

    Of a text that no name of a file can be, the start and an ellipsis, which is no wish.
    """
    if len(text) > _LONGEST_TEXT:
        text = text[:_LONGEST_TEXT] + " \u2026"
    shown = "".join(c for c in text if unicodedata.category(c) != "Cf")
    shown = re.sub("[\u00ba\u02da]", "\u00b0", shown)
    shown = re.sub(r"(\d*) ?([\u00bc-\u00be\u2150-\u215e])", _fraction, shown)
    shown = unicodedata.normalize("NFKC", shown).replace("_", " ")
    shown = "".join(str(unicodedata.decimal(c, c)) for c in shown)
    return " ".join(american(shown.casefold()).split())


def _fraction(found: re.Match[str]) -> str:
    return f"{int(found[1] or 0) + unicodedata.numeric(found[2]):.4f}".rstrip("0")


def wishes_at(text: str, place: int) -> Iterator[tuple[Wish, int]]:
    """Each wish that can be read at this place of a normal text, and where it ends."""
    for written in sorted(_FIXED, key=len, reverse=True):
        end = place + len(written)
        if text.startswith(written, place) and re.compile(_ENDS_WORD).match(text, end):
            yield _FIXED[written], end
    for form, wish_of in _FORMS:
        found = re.compile(form).match(text, place)
        if found and (re.compile(_ENDS_WORD).match(text, found.end())):
            wish = wish_of(found)
            if wish is not None:
                yield wish, found.end()
    if found := re.compile(_PAGES).match(text, place):
        yield from _pages_at(found)


def _pages_at(found: re.Match[str]) -> Iterator[tuple[Wish, int]]:
    """The pages of a list, the longest list first: what follows may be a size."""
    ends = [
        run.end() for run in re.compile(PAGES).finditer(found.string, found.start(1), found.end())
    ]
    for end in reversed(ends):
        try:
            pages = str(read_pages(found.string[found.start(1) : end]))
        except ValueError:
            continue
        if re.compile(_ENDS_WORD + r"(?!\.\d)").match(found.string, end):
            yield Wish(("pages",), pages, f"pages {pages}", WishWord.PAGES, pages), end
