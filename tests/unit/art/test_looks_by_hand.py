"""Paper in lamplight, letters among marks, and sizes of pictures that are read before decoding."""

from __future__ import annotations

import struct
from types import SimpleNamespace

import numpy as np
import pytest

from filmhand.art.analysis import classify
from filmhand.art.analysis.paper_estimate import _lamplight
from filmhand.art.files.decode import _webp_size


def surface(height, width, terms):
    """exp of a second-order surface over a sheet whose longer side is 1."""
    y, x = np.mgrid[:height, :width] / max(height, width)
    basis = (np.ones_like(x), x, y, x * x, x * y, y * y)
    return np.exp(sum(k * part for k, part in zip(terms, basis, strict=True))).astype(np.float32)


@pytest.mark.parametrize(
    "terms", [(-0.1, -0.8, 0.3, 0.2, -0.1, -0.9), (0, 0, 0, 0, 0, 0), (-1, 1.2, 0.5, -2, 0, -1)]
)
@pytest.mark.parametrize("size", [(300, 420), (500, 90)])
def test_lamplight_falls_off_as_a_surface_of_second_order(size, terms):
    paper = surface(*size, terms)
    found = _lamplight(paper)
    assert found.max() == pytest.approx(1, abs=1e-5)
    assert found == pytest.approx(paper / paper.max(), rel=0.005)
    # Shapes on the paper do not pull it down.
    shaped = paper.copy()
    shaped[20:120, 20:80] *= 0.2
    assert _lamplight(shaped) == pytest.approx(paper / paper.max(), rel=0.01)


def test_what_is_not_so_smooth_is_no_lamplight():
    rough = np.random.default_rng(1).uniform(-0.3, 0.3, (300, 400))
    assert _lamplight(np.exp(rough - 0.5).astype(np.float32)) is None
    half = np.ones((300, 400), np.float32)
    half[:, :160] = 0.3
    assert _lamplight(half) is None


@pytest.mark.parametrize(("fall", "dark"), [(2.4, False), (2.7, True)])
def test_lamplight_leaves_a_twelfth_of_the_light_at_least(fall, dark):
    # 0.08 of the light is a fall of 2.53 in logarithms.
    assert (_lamplight(surface(300, 300, (0, -fall, 0, 0, 0, 0))) is None) is dark


@pytest.mark.parametrize(("height", "narrow"), [(31, True), (32, False)])
def test_a_strip_too_narrow_for_a_surface_has_no_lamplight(height, narrow):
    # Every fourth pixel of 400 is looked at, and eight of them are wanted.
    assert (_lamplight(np.full((height, 400), 0.5, np.float32)) is None) is narrow


def kind_of(monkeypatch, letters, share, *, drawn=True, clouded=False, treat="line"):
    """What so many letters are taken for, with such a share of all ink in them."""
    marks = SimpleNamespace(
        area=np.array([share * 1000 / letters] * letters + [1000 - share * 1000])
    )
    which = np.array([True] * letters + [False])
    monkeypatch.setattr(classify, "find_marks", lambda ink: marks)
    monkeypatch.setattr(classify, "_letters", lambda marks, shape: which)
    monkeypatch.setattr(classify, "is_clouded", lambda look: clouded)
    depth = np.zeros((2, 2)), 0.0
    look = SimpleNamespace(small=np.zeros((9, 9)), drawn=drawn, inked_depth=depth)
    reading = classify._plain(look, SimpleNamespace(treat=treat, why="because"))
    return str(reading.kind), reading.treat


@pytest.mark.parametrize(
    ("letters", "share", "kind"),
    [
        # A dozen letters that are nearly all of the ink, or five dozen that are much of it.
        (12, 0.81, "text"),
        (11, 0.99, "drawing"),
        (12, 0.79, "drawing"),
        (60, 0.41, "text"),
        (59, 0.41, "drawing"),
        (60, 0.39, "drawing"),
        (200, 0.99, "text"),
    ],
)
def test_letters_make_a_text_where_they_are_enough(monkeypatch, letters, share, kind):
    assert kind_of(monkeypatch, letters, share) == (kind, "line")


@pytest.mark.parametrize(
    ("letters", "share", "drawn", "clouded", "kind"),
    [
        (5, 0.2, False, True, ("photo", "tone")),
        (5, 0.2, False, False, ("drawing", "line")),
        (5, 0.2, True, True, ("drawing", "line")),
        # Letters on stained paper: 25 of them with 30 % of the ink.
        (25, 0.31, False, True, ("drawing", "line")),
        (24, 0.31, False, True, ("photo", "tone")),
        (25, 0.29, False, True, ("photo", "tone")),
    ],
)
def test_a_clouded_ground_is_a_photograph_unless_there_are_letters(
    monkeypatch, letters, share, drawn, clouded, kind
):
    assert kind_of(monkeypatch, letters, share, drawn=drawn, clouded=clouded) == kind


def test_what_is_tone_is_a_photograph_whatever_lies_on_it(monkeypatch):
    assert kind_of(monkeypatch, 200, 0.99, treat="tone") == ("photo", "tone")


def test_letters_are_small_and_no_specks():
    marks = SimpleNamespace(
        height=np.array([8, 9, 8, 8, 8]), width=np.array([19, 19, 20, 19, 19]),
        area=np.array([4, 4, 4, 4, 3]),
    )  # fmt: skip
    # Of a longer side of 100: lower than 9, narrower than 20, of four pixels at least.
    assert classify._letters(marks, (60, 100)).tolist() == [True, False, False, True, False]


@pytest.mark.parametrize(("shape", "band"), [((60, 100), 5), ((100, 29), 5), ((89, 89), 4)])
def test_the_frame_is_a_twentieth_of_the_longer_side(shape, band):
    frame = classify._along_frame(shape)
    inside = np.zeros(shape, bool)
    inside[band:-band, band:-band] = True
    assert np.array_equal(frame, ~inside)


@pytest.mark.parametrize(
    ("tint", "solid", "treat", "flat"),
    [
        (0.05, 0.3, "tone", True),
        (0.009, 0.3, "tone", False),
        (0.011, 0.3, "line", True),
        (0.05, 0.005, "line", False),  # faint strokes that are wide here and there
        (0.05, 0.005, "tone", True),
        (0.085, 0.005, "line", True),
    ],
)
def test_tints_are_told_by_how_much_of_them_there_is(tint, solid, treat, flat):
    code = np.ones(10_000, np.float32)
    code[: round(10_000 * tint)] = 0.6
    code[5000 : 5000 + round(10_000 * solid)] = 0.1
    reading = classify._of_tints(
        code, np.ones(code.shape, bool), SimpleNamespace(treat=treat, why="w")
    )
    assert (reading is not None) is flat
    if flat:
        assert (str(reading.kind), reading.treat) == ("flat", "tone")
    # What is not even does not count.
    assert classify._of_tints(code, code > 0.9, SimpleNamespace(treat=treat, why="w")) is None


@pytest.mark.parametrize(("codes", "few"), [(24, True), (25, False)])
def test_chosen_tints_stand_on_two_dozen_codes(codes, few):
    # Steps of a hundredth, of which each holds as much as the next; two percent may stray.
    chosen = np.repeat((np.arange(codes) + 0.5) / 100, 100).astype(np.float32)
    assert classify._on_few_codes(chosen) is few
    stray = np.linspace(0.5, 1.2, round(0.019 * chosen.size)).astype(np.float32)
    assert classify._on_few_codes(np.concatenate([chosen, stray])) is few


@pytest.mark.parametrize(("width", "height"), [(1, 1), (1000, 700), (16_383, 9_999)])
def test_the_size_of_a_webp_stands_in_its_first_chunk(width, height):
    # RFC 9649: 2.5 simple lossy (with 2 bits of scale), 2.6 lossless, 2.7 extended.
    start = b"RIFF\0\0\0\0WEBP"
    lossy = start + b"VP8 " + bytes(4) + bytes(3) + b"\x9d\x01\x2a" + struct.pack(
        "<HH", width | 0x4000, height | 0x8000
    )  # fmt: skip
    lossless = start + b"VP8L" + bytes(4) + b"\x2f" + struct.pack(
        "<I", width - 1 | height - 1 << 14 | 1 << 28
    )  # fmt: skip
    extended = start + b"VP8X" + bytes(8) + (width - 1).to_bytes(3, "little") + (
        height - 1
    ).to_bytes(3, "little")  # fmt: skip
    for head in (lossy, lossless, extended):
        assert _webp_size(head + bytes(8)) == (width, height)
    for broken in (lossy[:23] + b"\x9d\x01\x2b" + lossy[26:], lossless[:20] + b"\x2e", start):
        assert _webp_size(broken + bytes(8)) is None
