"""The label's letters: as large as its words allow, and nothing cut while there is room."""

from __future__ import annotations

import unicodedata

import numpy as np
import pytest
from PIL import ImageFont
from scipy import ndimage

from filmhand.arrays import BoolArray
from filmhand.sheet import lettering
from filmhand.sheet.accents import DRAWN, font_of, length_of
from filmhand.sheet.lettering import label_bits, plain_text, text_bits
from filmhand.units import Resolution

SHORT = ["poster.jpg", "small | 25.00 lpi | mesh 110 (43-80)", "right-reading | no warnings"]


def drawn(lines, dpi, mm=(188.0, 6.8)):
    """The label's bits, the rows of letters, and the height of those in millimeters."""
    width, height = round(mm[0] / 25.4 * dpi.x), round(mm[1] / 25.4 * dpi.y)
    bits = label_bits(lines, width, height, dpi)
    assert bits.shape == (height, width)
    _, count = ndimage.label(bits.any(axis=1))
    return bits, count


def sizes_asked(monkeypatch):
    sizes = []
    real = lettering.font_of

    def load(size):
        sizes.append(size)
        return real(size)

    monkeypatch.setattr(lettering, "font_of", load)
    return sizes


@pytest.mark.parametrize(
    "dpi", [Resolution(300, 300), Resolution(1200, 1200), Resolution(600, 300)]
)
def test_letters_are_as_large_as_the_words_leave_room_for(monkeypatch, dpi):
    sizes = sizes_asked(monkeypatch)
    found = []
    for repeat in (1, 2, 4, 6):
        words = [SHORT[0] * repeat, SHORT[1] + " | more said" * 4 * repeat, SHORT[2]]
        drawn(words, dpi)
        found.append(sizes[-1] / dpi.y * 25.4)
    assert found == sorted(found, reverse=True)
    assert found[0] == pytest.approx(3.3, abs=0.15) and found[-1] >= 1.7


def test_letters_have_the_same_size_in_millimeters_at_any_resolution(monkeypatch):
    sizes = sizes_asked(monkeypatch)
    found = []
    for dpi in (Resolution(300, 300), Resolution(600, 1200), Resolution(1200, 1200)):
        drawn(SHORT, dpi)
        found.append(sizes[-1] / dpi.y * 25.4)
    assert found == pytest.approx([found[0]] * 3, rel=0.07)


def test_nothing_is_left_out_while_it_fits(monkeypatch):
    texts = []
    monkeypatch.setattr(
        lettering.ImageDraw.ImageDraw, "text", lambda self, at, words, *_, **__: texts.append(words)
    )
    words = [SHORT[0], SHORT[1] + " | more said" * 14, SHORT[2] + " | WARN moire visibility 0.05"]
    drawn(words, Resolution(300, 300))
    assert " | ".join(texts) == " | ".join(words)
    texts.clear()
    drawn(["n" * 900, *SHORT[1:]], Resolution(300, 300))
    # Of a name that fills the label, what can be read; the rest keeps its lines.
    assert texts[0].endswith("...") and texts[1:] == SHORT[1:]


def test_letters_of_two_lines_do_not_touch():
    for count in (2, 3):
        _, rows = drawn(["gypfl|[]" + "x" * 40] * count, Resolution(600, 600), mm=(80.0, 6.8))
        assert rows >= 1
    bits, _ = drawn(SHORT, Resolution(300, 300))
    assert not bits[-1].any()


def test_names_are_folded_to_what_can_be_drawn():
    assert plain_text("Größe – Łódź “æ” 5×7 45°") == 'Grosse - Lódz "ae" 5x7 45°'
    assert plain_text("写真.jpg") == "??.jpg"
    kept = plain_text("".join(map(chr, range(1, 0x2FF))))
    assert np.all([" " <= c <= "~" or c in {*DRAWN, "°"} for c in kept])
    # As some computers write names, each mark beside its letter.
    assert plain_text("an\u0303o a\u0300") == "año a"
    # The font has a sign for degrees.
    assert not np.array_equal(in_letters("°"), in_letters("?")) and in_letters("°").any()


SPANISH = "áéíóúüñÁÉÍÓÚÜÑ¿¡"


def in_letters(text: str, size: int = 60) -> BoolArray:
    """A line of text as the label draws it."""
    return text_bits([text], 40 * size, 2 * size, 2 * size, Resolution(600, 600), tall_mm=2.0)


def test_each_letter_of_spanish_is_drawn_as_itself():
    assert plain_text(SPANISH) == SPANISH
    drawn_letters = {letter: in_letters(letter) for letter in SPANISH + "aeiounAEIOUN?!"}
    for letter, bits in drawn_letters.items():
        assert bits.any()
        assert not any(
            np.array_equal(bits, other) for name, other in drawn_letters.items() if name != letter
        )


@pytest.mark.parametrize("letter", SPANISH[:-2])
def test_an_accent_stands_over_its_letter(letter):
    plain, accented = in_letters(unicodedata.normalize("NFD", letter)[0]), in_letters(letter)
    rows, columns = np.nonzero(accented & ~plain)
    inked_rows, inked_columns = np.nonzero(plain)
    assert rows.size
    assert inked_columns.min() - 9 <= columns.min() <= columns.max() <= inked_columns.max() + 9
    assert rows.max() <= (inked_rows.min() + inked_rows.max()) / 2
    # What follows lies where it would without the accent.
    assert np.nonzero(in_letters(f"{letter}m").any(axis=0))[0].max() == (
        np.nonzero(in_letters(f"{unicodedata.normalize('NFD', letter)[0]}m").any(axis=0))[0].max()
    )


def test_the_sign_for_micro_is_a_u_with_a_stem_below_the_line():
    assert plain_text("5 \N{MICRO SIGN}m, 6 \N{GREEK SMALL LETTER MU}m") == "5 µm, 6 µm"
    plain, micro = in_letters("u"), in_letters("µ")
    assert not (plain & ~micro).any()
    rows, columns = np.nonzero(micro & ~plain)
    inked_rows, inked_columns = np.nonzero(plain)
    assert rows.max() > inked_rows.max() + 3  # below the base line
    assert columns.min() >= inked_columns.min() - 1
    assert columns.max() < inked_columns.mean()  # its first stem alone
    # What follows lies where it would beside a u.
    last = [np.nonzero(in_letters(f"{c}m").any(axis=0))[0].max() for c in "uµ"]
    assert last[0] == last[1]


def test_inverted_marks_are_the_upright_ones_turned():
    for turned, upright in ("¿?", "¡!"):
        one, other = (bits[np.ix_(bits.any(axis=1), bits.any(axis=0))]
                      for bits in (in_letters(turned), in_letters(upright)))  # fmt: skip
        assert np.array_equal(one, other[::-1, ::-1])
        last, base = (np.nonzero(in_letters(c).any(axis=1))[0].max() for c in (turned, upright))
        assert last > base


@pytest.mark.parametrize("size", [8, 31, 38.75])
def test_the_width_of_a_text_is_what_the_library_measures(size):
    letters = [chr(code) for code in range(32, 127)] + ["°"]
    taken = np.random.default_rng(7).integers(len(letters), size=(40, 60))
    texts = ["", "V", "AVATAR To, fi", *("".join(letters[k] for k in row) for row in taken)]
    font = ImageFont.load_default(size)
    assert [length_of(text, font_of(size)) for text in texts] == [*map(font.getlength, texts)]
