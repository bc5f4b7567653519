"""What stands on a proof besides the film, and whether everybody can see it."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont

from filmhand.page import predicted_print, proof
from filmhand.page.proof_page import Detail, ProofPage, ProofWords
from filmhand.sheet.lettering import wrapped
from filmhand.tone import linear_to_srgb, srgb_to_linear

FILM = Image.new("RGB", (1040, 700), "white")
CLOSE = Image.new("RGB", (640, 640), "white")
# Machado, Oliveira, Fernandes 2009, "A Physiologically-based Model for Simulation of Color Vision
# Deficiency", severity 1.0; the figures from memory.
DEFICIENT = {
    "protan": [[0.152, 1.053, -0.205], [0.115, 0.786, 0.099], [-0.004, -0.048, 1.052]],
    "deutan": [[0.367, 0.861, -0.228], [0.280, 0.673, 0.047], [-0.012, 0.043, 0.969]],
    "tritan": [[1.256, -0.077, -0.179], [-0.078, 0.931, 0.148], [0.005, 0.691, 0.304]],
}


@pytest.fixture
def drawn(monkeypatch):
    """(words, size, left, top, right) of each line that is written."""
    lines = []
    real = ImageDraw.ImageDraw.text

    def text(self, at, words, **more):
        lines.append((words, more["font"].size, *at, at[0] + more["font"].getlength(words)))
        return real(self, at, words, **more)

    monkeypatch.setattr(ImageDraw.ImageDraw, "text", text)
    return lines


def test_all_can_be_read_on_a_phone_and_nothing_is_cut_off(drawn):
    words = ProofWords(
        "class 4/" + "a long name " * 20, ("a fact of some length " * 9,) * 6,
        ("a warning that goes on " * 12, "w" * 300),
    )  # fmt: skip
    legend = [(None, "what it shows"), (proof._ring, "the weakest places of all the art on it")]
    page = ProofPage(FILM.size, words).picture(FILM, Detail(CLOSE, legend))
    assert page.width == 1080
    for told, size, left, top, right in drawn:
        assert size * 390 / page.width >= 11  # pixels where the picture is as wide as a phone
        assert left >= 0 and right <= page.width - 19
        assert top + size * 1.2 <= page.height
        assert told.isascii()
    boxes = [(left, top, right, top + size) for _, size, left, top, right in drawn]
    for n, one in enumerate(boxes):
        for other in boxes[n + 1 :]:
            across = one[0] < other[2] and other[0] < one[2]
            assert not (across and one[1] < other[3] and other[1] < one[3])


def test_what_is_said_stands_there_whole(drawn):
    words = ProofWords("poster.jpg", ("Mesh 110.", "300 dpi."), ("Bands may show.",))
    ProofPage(FILM.size, words).picture(FILM, Detail(CLOSE, [(None, "Enlarged.")]))
    assert [told for told, *_ in drawn] == [
        "poster.jpg", "up", "Bands may show.", "Mesh 110.", "300 dpi.", "Enlarged.",
    ]  # fmt: skip


def test_words_that_would_fill_the_page_end_in_dots(drawn):
    words = ProofWords("name " * 200, ("fact " * 900,))
    ProofPage(FILM.size, words).picture(FILM, Detail(CLOSE, []))
    lines = [told for told, *_ in drawn]
    assert len(lines) == 2 + 1 + 8
    assert lines[1].endswith("...") and lines[-1].endswith("...")


def test_a_wide_detail_has_its_legend_below(drawn):
    wide = Image.new("RGB", (1000, 300))
    shown = Detail(wide, [(None, "Enlarged.")])
    page = ProofPage(FILM.size, ProofWords()).picture(FILM, shown)
    *_, (_, size, left, top, _) = drawn
    assert left == 20 and top >= page.height - 2 * size


def lab(color):
    """CIELAB under D65 of linear sRGB (IEC 61966-2-1, CIE 15)."""
    to_xyz = [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
    x, y, z = np.array(to_xyz) @ color / [0.9505, 1, 1.089]
    f = [c ** (1 / 3) if c > 0.008856 else 7.787 * c + 16 / 116 for c in (x, y, z)]
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@pytest.mark.parametrize("eyes", DEFICIENT)
def test_marks_of_one_shape_differ_without_color_vision(eyes):
    """The others differ by shape; a difference of 20 is plain (common practice, no source)."""
    matrix = np.array(DEFICIENT[eyes])

    def seen(color):
        return lab(np.clip(matrix @ srgb_to_linear(np.array(color) / 255), 0, 1))

    pairs = [
        (predicted_print.LOST, predicted_print.FILLED),
        (predicted_print.LOST, (255, 255, 255)),
        (predicted_print.FILLED, (0, 0, 0)),
        (proof._FRAME, proof._GONE),
        (proof._CLEARED_TINT, (255, 255, 255)),
    ]
    for one, other in pairs:
        assert np.linalg.norm(seen(one) - seen(other)) > 20
    assert linear_to_srgb(1.0) == pytest.approx(1)


def test_lines_are_broken_at_blanks_and_within_long_words():
    font = ImageFont.load_default(20)
    text = "one two three " * 9 + "x" * 200
    lines = wrapped(text, font, 150)
    assert all(font.getlength(line) <= 150 for line in lines)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert wrapped("", font, 150) == [""]
    assert wrapped("a-long-name-of-a_picture.jpeg", font, 240)[0].endswith(("-", "_", "."))
    assert wrapped("one two", font, 1500) == ["one two"]
