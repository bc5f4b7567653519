"""The proof as one picture: name, arrow for up, film, its facts, and the detail with its legend.

One column, so that it can be read on a phone: where the picture is 390 px wide, its smallest
letters are 11 px. What is marked has a shape of its own besides its color.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PIL import Image, ImageDraw

from filmhand.page.page_words import ProofCaption
from filmhand.sheet.accents import Font, draw_text, font_of
from filmhand.sheet.lettering import plain_text, wrapped
from filmhand.values import dataclass

PAGE_WIDTH, SPACE = 1080, 20
_PHONE_WIDTH, _PHONE_LETTERS = 390, 11.2
TEXT_SIZE = -(-PAGE_WIDTH * _PHONE_LETTERS // _PHONE_WIDTH)
"""Size of the letters, pixels."""
_TITLE_SIZE = TEXT_SIZE * 1.25
_LINE = 1.25  # pitch of lines, in sizes of the letters
INSIDE = PAGE_WIDTH - 2 * SPACE
"""Columns that film and text have."""
_MOST_TITLE, _MOST_LINES = 2, 8
_SYMBOL = 34
_AROUND, _TEXT, _WARNING = (232, 232, 232), (25, 25, 25), (150, 20, 20)

Color = tuple[int, int, int]
_Part = Callable[[Image.Image, ImageDraw.ImageDraw, int], None]
Symbol = Callable[[ImageDraw.ImageDraw, tuple[float, float]], None]
"""Draws a mark about a place."""


@dataclass(frozen=True, slots=True)
class ProofWords:
    """What a proof says of its film.

    Attributes
    ----------
    title : the art's name
    facts, warnings : sentences, one a line or more
    turn : degrees, counter-clockwise, by which the picture of the film is turned so that its art
        stands upright: 0, 90 or 270
    """

    title: str = ""
    facts: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    turn: int = 0


@dataclass(frozen=True, slots=True)
class Detail:
    """An enlarged part of the film, and what is said of it."""

    picture: Image.Image
    legend: Sequence[tuple[Symbol | None, str]]


def turned_quarters(picture: Image.Image, degrees: int) -> Image.Image:
    """The picture turned counter-clockwise by whole quarters."""
    ways = {90: Image.Transpose.ROTATE_90, 270: Image.Transpose.ROTATE_270}
    return picture.transpose(ways[degrees]) if degrees else picture


class ProofPage:
    """The proof of a film, 1080 pixels wide, whose words are drawn before its pictures are there.

    Parameters
    ----------
    size : width and height of the picture of the film, upright, at most ``INSIDE`` wide
    """

    def __init__(self, size: tuple[int, int], words: ProofWords) -> None:
        self._font = font_of(TEXT_SIZE)
        self._column = ProofColumn()
        self._film = self._column.begin(words, size, self._font)
        self._column.told(words, self._font)
        self._column.draw()

    def picture(self, film: Image.Image, detail: Detail) -> Image.Image:
        """All of it, with the film and its marks."""
        self._column.fill(self._film, film)
        self._column.detail(detail, self._font)
        return self._column.picture()


@dataclass(frozen=True, slots=True)
class Captioned:
    """A small picture with a symbol and words below it."""

    picture: Image.Image
    symbol: Symbol
    caption: str


def set_proof_page(
    printed: Image.Image, caption: str, films: Sequence[Captioned], words: ProofWords, columns: int
) -> Image.Image:
    """The proof of a set of films, 1080 pixels wide.

    Parameters
    ----------
    printed : the expected print, upright, at most ``INSIDE`` wide
    caption : what is said of it
    films : each film, upright, at most :func:`column_width` wide
    columns : how many films stand beside each other
    """
    body = font_of(TEXT_SIZE)
    page = ProofColumn()
    page.fill(page.begin(words, printed.size, body), printed)
    page.write(text_lines(caption, body, INSIDE, _MOST_LINES), body, TEXT_SIZE)
    page.told(words, body)
    for first in range(0, len(films), columns):
        page.row(films[first : first + columns], column_width(columns), body)
    return page.picture()


def column_width(columns: int) -> int:
    """Pixels of each of so many pictures beside each other."""
    return (INSIDE - (columns - 1) * SPACE) // columns


class ProofColumn:
    """What stands below one another; drawn when it is asked for."""

    def __init__(self) -> None:
        self._height = SPACE
        self._parts: list[tuple[int, _Part]] = []
        self._page = Image.new("RGB", (PAGE_WIDTH, 0), _AROUND)

    def _add(self, height: float, draw: _Part) -> None:
        self._parts.append((self._height, draw))
        self._height += round(height)

    def put(self, picture: Image.Image, left: int) -> None:
        """A picture with room below it."""
        self.fill(self.leave_room(picture.height, left), picture)

    def leave_room(self, height: int, left: int) -> tuple[int, int]:
        """Room for a picture of a height, with more below it; where that is to be filled in."""
        place = left, self._height
        self._height += round(height + SPACE / 2)
        return place

    def fill(self, place: tuple[int, int], picture: Image.Image) -> None:
        """Fill in the picture that room was left for."""
        self._parts.append((place[1], lambda page, _draw, _top: page.paste(picture, place)))

    def write(
        self, lines: list[str], font: Font, size: float, *, left: int = SPACE, color: Color = _TEXT
    ) -> None:
        """Lines of text with a little room below them."""

        def draw_lines(_page: Image.Image, draw: ImageDraw.ImageDraw, top: int) -> None:
            for number, line in enumerate(lines):
                place = left, top + number * size * _LINE
                draw_text(draw, place, line, color, font, paper=_AROUND)

        self._add(len(lines) * size * _LINE + 6, draw_lines)

    def arrow(self, font: Font) -> None:
        """The arrow for up."""

        def draw_arrow(_page: Image.Image, draw: ImageDraw.ImageDraw, top: int) -> None:
            x, low = SPACE + 14, top + 34
            points = [(x, top), (x + 14, top + 18), (x + 5, top + 18), (x + 5, low)]
            points += [(x - 5, low), (x - 5, top + 18), (x - 14, top + 18)]
            draw.polygon(points, fill=_TEXT)
            up = plain_text(ProofCaption.UP.say())
            draw_text(draw, (x + 26, top - 1), up, _TEXT, font, paper=_AROUND)

        self._add(44, draw_arrow)

    def begin(self, words: ProofWords, size: tuple[int, int], font: Font) -> tuple[int, int]:
        """The title, the arrow for up, and room for the picture that is looked at first.

        ``size`` is its width and height; gives where it is to be filled in.
        """
        if words.title:
            title = font_of(_TITLE_SIZE)
            self.write(text_lines(words.title, title, INSIDE, _MOST_TITLE), title, _TITLE_SIZE)
        self.arrow(font)
        return self.leave_room(size[1], (PAGE_WIDTH - size[0]) // 2)

    def told(self, words: ProofWords, font: Font) -> None:
        """Warnings, and below them facts."""
        for sentence in words.warnings:
            self.warning(text_lines(sentence, font, INSIDE - _SYMBOL - 10, _MOST_LINES), font)
        for sentence in words.facts:
            self.write(text_lines(sentence, font, INSIDE, _MOST_LINES), font, TEXT_SIZE)

    def row(self, pictures: Sequence[Captioned], width: int, font: Font) -> None:
        """Pictures beside each other, each in a column of that width with its words below it."""
        top = self._height + SPACE // 2
        lowest = top
        for number, one in enumerate(pictures):
            left = SPACE + number * (width + SPACE)
            self._height = top
            self.put(one.picture, left + (width - one.picture.width) // 2)
            middle = left + _SYMBOL / 2, self._height + TEXT_SIZE * _LINE / 2
            self._add(0, _sign(one.symbol, middle))
            indent = _SYMBOL + 8
            lines = text_lines(one.caption, font, width - indent, _MOST_LINES)
            self.write(lines, font, TEXT_SIZE, left=left + indent)
            lowest = max(lowest, self._height)
        self._height = lowest

    def warning(self, lines: list[str], font: Font) -> None:
        """Lines with the sign of a warning before them."""

        def draw_sign(_page: Image.Image, draw: ImageDraw.ImageDraw, top: int) -> None:
            x, high, low = SPACE + _SYMBOL / 2, top + 2, top + _SYMBOL
            draw.polygon([(x, high), (x + 17, low), (x - 17, low)], fill=_WARNING)
            draw.line((x, high + 11, x, high + 21), fill=_AROUND, width=4)
            draw.rectangle((x - 2, high + 25, x + 1, high + 28), fill=_AROUND)

        self._add(0, draw_sign)
        self.write(lines, font, TEXT_SIZE, left=SPACE + _SYMBOL + 10, color=_WARNING)

    def detail(self, detail: Detail, font: Font) -> None:
        """The detail with its legend beside it, or below it where it is wide."""
        picture, top = detail.picture, self._height + SPACE // 2
        self._height = top
        beside = PAGE_WIDTH - 3 * SPACE - picture.width
        room = beside if beside >= PAGE_WIDTH // 4 else INSIDE
        left = picture.width + 2 * SPACE if room == beside else SPACE
        self.put(picture, SPACE)
        after, self._height = self._height, top if room == beside else self._height
        for symbol, told in detail.legend:
            indent = 0 if symbol is None else _SYMBOL + 8
            if symbol is not None:
                middle = (left + _SYMBOL / 2, self._height + TEXT_SIZE * _LINE / 2)
                self._add(0, _sign(symbol, middle))
            lines = text_lines(told, font, room - indent, _MOST_LINES)
            self.write(lines, font, TEXT_SIZE, left=left + indent)
        self._height = max(after, self._height)

    def draw(self) -> None:
        """Draw what has been added so far, on a page that grows with it."""
        page = Image.new("RGB", (PAGE_WIDTH, self._height + SPACE // 2), _AROUND)
        page.paste(self._page, (0, 0))
        draw = ImageDraw.Draw(page)
        for top, part in self._parts:
            part(page, draw, top)
        self._parts.clear()
        self._page = page

    def picture(self) -> Image.Image:
        """All of it."""
        self.draw()
        return self._page


def _sign(symbol: Symbol, at: tuple[float, float]) -> _Part:
    return lambda _page, draw, _top: symbol(draw, at)


def text_lines(text: str, font: Font, width: int, most: int) -> list[str]:
    """The text in lines, with dots where there would be more than so many."""
    lines = wrapped(plain_text(text), font, width)
    if len(lines) > most:
        lines = [*lines[: most - 1], lines[most - 1][:-3] + "..."]
    return lines
