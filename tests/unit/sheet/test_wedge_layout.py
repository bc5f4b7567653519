"""Where things lie on a wedge, and what its code says."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations, pairwise
from typing import Any

import pytest

from filmhand.sheet.wedge_identity import NoIdentity, WedgeIdentity, WedgeKind, code_name
from filmhand.sheet.wedge_layout import (
    FEWER_TONES,
    PITCH,
    FeatureKind,
    drawn_sizes,
    wedge_layout,
    wedge_size,
)
from filmhand.units import PixelsPerInch, Resolution

IDENTITY = WedgeIdentity(
    kind=WedgeKind.PRINT,
    name="SMALL-SHEET",
    short_hash="1a2b3c4d",
    lpi=24.98,
    angle=45.0,
    dot="ELLIPSE 1.3",
    dpi=Resolution(600, 1200),
    scale_pct=(99.6, 100.25),
    mesh="43-80",
    size_mm=(196.8, 260.0),
    mirror=True,
)


@pytest.mark.parametrize("lpi", [5, 25, 45, 65, 100, None])
@pytest.mark.parametrize("dpi", [72, 300, 2880])
@pytest.mark.parametrize(
    "room", [(63.5, 88.9), (88.9, 63.5), (90, 90), (203.2, 266.7), (1104, 1511), (266, 120)]
)
def test_nothing_lies_on_anything_else_and_all_tones_are_there(
    room: tuple[float, float], lpi: float | None, dpi: int
) -> None:
    size = wedge_size(*room)
    layout = wedge_layout(*size, lpi=lpi, dpi=PixelsPerInch(dpi, dpi))
    assert layout is not None
    boxes = [mark.box for mark in layout.corner_marks]
    boxes += [patch.box for patch in layout.patches] + [*layout.solids, *layout.bare]
    boxes += [field.box for field in layout.fields]
    boxes += [bar.box for bar in layout.scale_bars] + [label.box for label in layout.labels]
    boxes += [layout.code] if layout.code else []
    assert all(box.left > -1e-6 and box.top > -1e-6 for box in boxes)
    assert all(box.right < size[0] + 1e-6 and box.bottom < size[1] + 1e-6 for box in boxes)
    assert not any(one.overlaps(other) for one, other in combinations(boxes, 2))
    tones = {patch.film_pct for patch in layout.patches}
    assert tones >= ({0, 100} if lpi is None else set(FEWER_TONES))
    assert layout.title.right <= layout.corner_marks[1].box.left


def test_large_wedges_have_each_tone_twice_far_apart() -> None:
    layout = wedge_layout(200, 260, lpi=45, dpi=PixelsPerInch(600, 600))
    assert layout is not None and layout.code is not None
    for tone in FEWER_TONES:
        one, other = (patch.box for patch in layout.patches if patch.film_pct == tone)
        assert abs(one.left - other.left) + abs(one.top - other.top) > 20
    # The second copy does not run along the tones.
    second = [patch.film_pct for patch in layout.patches if patch.copy == 1]
    assert all(abs(a - b) > 8 for a, b in pairwise(second))


def test_a_small_sheet_still_has_sizes_and_a_code() -> None:
    layout = wedge_layout(63.5, 88.9, lpi=60, dpi=PixelsPerInch(600, 600))
    assert layout is not None and layout.code is not None
    assert {field.kind for field in layout.fields} == set(FeatureKind)
    assert min(patch.box.width for patch in layout.patches) >= 4 * 25.4 / 60


@pytest.mark.parametrize(("size", "tones"), [((30, 40), 13), ((30, 30), 7), ((25, 35), 7)])
def test_the_smallest_sheets_have_fewer_tones(size: tuple[float, float], tones: int) -> None:
    layout = wedge_layout(*size, lpi=45, dpi=PixelsPerInch(600, 600))
    assert layout is not None and layout.code is None
    assert len(layout.patches) == tones and layout.bare
    boxes = [*(patch.box for patch in layout.patches), *(mark.box for mark in layout.corner_marks)]
    assert not any(a.overlaps(b) for n, a in enumerate(boxes) for b in boxes[:n])
    assert all(box.right <= size[0] and box.bottom <= size[1] for box in boxes)


def test_too_little_room_gives_none() -> None:
    assert wedge_layout(25, 25, lpi=45, dpi=PixelsPerInch(600, 600)) is None


def test_sizes_are_whole_pixels_and_fit_their_pitch() -> None:
    dpi = PixelsPerInch(600, 1200)
    for kind in FeatureKind:
        sizes = drawn_sizes(kind, dpi)
        assert [size for size, _ in sizes] == sorted({size for size, _ in sizes})
        assert all(y == pytest.approx(2 * x, abs=1) for _, (x, y) in sizes)
    layout = wedge_layout(200, 260, lpi=45, dpi=dpi)
    assert layout is not None
    widest = max(field.size_um for field in layout.fields)
    assert PITCH * widest / 1000 * 2 < min(field.box.width for field in layout.fields)


def test_corners_differ_when_turned_and_when_mirrored() -> None:
    layout = wedge_layout(100, 100, lpi=45, dpi=PixelsPerInch(600, 600))
    assert layout is not None
    holes = [mark.holes for mark in layout.corner_marks]
    turned = [holes[n:] + holes[:n] for n in range(4)]
    mirrored = [one[::-1] for one in turned]
    assert all(turned.count(one) == 1 for one in turned)
    assert not any(one in mirrored for one in turned)


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"lpi": None, "angle": None, "dot": None, "mesh": None},
        {"kind": WedgeKind.EXPOSURE, "mirror": False, "negative": True},
        {"angle": None, "dot": "GRAIN", "scale_pct": (100.0, 100.0), "negative": True},
    ],
)
def test_a_code_says_what_it_was_told(changes: dict[str, Any]) -> None:
    identity = replace(IDENTITY, **changes)
    text = identity.text()
    assert set(text) <= set("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:")  # ISO/IEC 18004
    assert WedgeIdentity.from_text(text) == identity


def test_no_name_breaks_a_code() -> None:
    for name in ("", "ñandú:/\n", "x" * 300, "日本"):
        identity = replace(IDENTITY, name=code_name(name))
        assert WedgeIdentity.from_text(identity.text()) == identity


@pytest.mark.parametrize(
    "change",
    [
        lambda text: text + "\n",
        lambda text: text + ":" + "9" * 1000,
        lambda text: text.replace(":600X1200:", ":9999X9999:"),
        lambda text: text.replace("24.98", "9999"),
        lambda text: text.replace("24.98", "٢٤"),
        lambda text: text.replace("1968X2600", "0X0"),
        lambda text: text.replace("99.6X", "0.1X"),
        lambda text: text.replace("1A2B3C4D", "1A2B"),
        lambda text: "https://example.org/" + text,
        lambda text: "",
    ],
)
def test_texts_that_no_wedge_carries_are_refused(change: Any) -> None:
    with pytest.raises(NoIdentity) as failed:
        WedgeIdentity.from_text(change(IDENTITY.text()))
    assert not failed.value.newer


def test_a_later_layout_is_told_from_nonsense() -> None:
    with pytest.raises(NoIdentity) as failed:
        WedgeIdentity.from_text("FW2:WHATEVER")
    assert failed.value.newer
