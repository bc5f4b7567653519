"""What an SVG drawing says of itself: its size in inches, what it holds, and when it is absurd."""

from __future__ import annotations

import base64

import pytest

from filmhand.art.crop_window import CropWindow
from filmhand.art.drawings import svg_scan
from filmhand.art.drawings.svg_scan import (
    BrokenSvg,
    SwollenSvg,
    resized,
    scan_svg,
    text_of,
    windowed,
)

HEAD = "xmlns='http://www.w3.org/2000/svg' xmlns:xlink='http://www.w3.org/1999/xlink'"


def scan(inner="", said="", **more):
    return scan_svg(f"<svg {HEAD} {said}>{inner}</svg>", **more)


@pytest.mark.parametrize(
    ("length", "inches"),
    # CSS 2.1, 4.3.2: 1 in is 2.54 cm, 72 pt, 6 pc, 96 px; CSS Values 3: a quarter of a millimeter
    # is a Q.
    [("96", 1), ("96px", 1), ("1in", 1), ("25.4mm", 1), ("2.54cm", 1), ("72pt", 1), ("6pc", 1),
     ("101.6q", 1), (" 1.5 IN ", 1.5), (".5in", 0.5), ("5e-1in", 0.5), ("+2.in", 2)],
)  # fmt: skip
def test_units_of_lengths(length, inches):
    found = scan(said=f"width='{length}' height='192'")
    assert found.inches == pytest.approx((inches, 2))


@pytest.mark.parametrize(
    ("said", "inches"),
    [
        ("", None),
        ("width='1in'", None),
        ("viewBox='5 6 96 48'", (1, 0.5)),
        ("viewBox='5,6,96,48' width='3in'", (3, 1.5)),
        ("viewBox='5 6 96 48' height='3in'", (6, 3)),
        ("viewBox='5 6 96 48' width='1in' height='3in'", (1, 3)),
        ("viewBox='0 0 96 48' width='100%' height='2in'", (4, 2)),
        ("viewBox='0 0 96' width='100%' height='2in'", None),
        ("width='1em' height='2in'", None),
    ],
)
def test_what_is_missing_of_a_size_follows_from_the_view(said, inches):
    found = scan(said=said)
    assert found.inches == (None if inches is None else pytest.approx(inches))
    assert found.has_view_box is ("viewBox" in said)


@pytest.mark.parametrize("view", ["0 0 0 5", "0 0 5 0", "0 0 -5 5", "0 0 5 -5"])
def test_a_view_without_a_size_is_broken(view):
    with pytest.raises(BrokenSvg, match="no size"):
        scan(said=f"viewBox='{view}'")


def test_what_a_drawing_holds():
    plain = scan("<rect width='3' height='4'/>")
    assert plain.root_at == 0 and not plain.outside and not plain.families
    assert not (plain.has_text or plain.pictures or plain.layers)
    assert not (plain.scripts or plain.foreign or plain.moving)
    assert scan_svg(f"<?xml version='1.0'?><!-- ü --><svg {HEAD}/>").root_at == 32
    for text in ("text", "tspan", "textPath", "tref"):
        assert scan(f"<{text}/>").has_text
    assert scan("<script/>").scripts and scan("<rect onclick='x'/>").scripts
    assert scan("<foreignObject/>").foreign
    for name in ("animate", "animateMotion", "animateTransform", "set"):
        assert scan(f"<{name}/>").moving
    assert scan("<image/><g><image/></g><feImage/>").pictures == 3
    assert scan("<filter/><mask/><clipPath/><pattern/><g opacity='.5'/>").layers == 5
    assert scan("<g style='opacity:.5'/><g style='fill:red'/>").layers == 1
    assert scan("<style>a{filter:url(#b)}</style><style>c{mix-blend-mode:x}</style>").layers == 2


def test_fonts_that_text_may_use():
    found = scan(
        "<text font-family='A'/><text style='font-family: B, C; fill: red'/>"
        "<text font='italic 12px/14px D'/><style>t{font-family:E !important} u{font:9pt F}</style>"
    )
    assert {name.strip() for name in found.families} == {"A", "B, C", "D", "E", "F"}


@pytest.mark.parametrize(
    ("inner", "outside"),
    [
        ("<image href='a.png'/>", ["a.png"]),
        ("<image xlink:href=' a.png '/>", ["a.png"]),
        ("<use href='b.svg#c'/>", ["b.svg#c"]),
        ("<feImage href='a.png'/><pattern href='p.svg#p'/>", ["a.png", "p.svg#p"]),
        ("<a href='http://shop'/>", []),
        ("<image href=''/>", []),
        ("<image href='#own'/>", []),
        ("<image href='data:image/png;base64,AAAA'/>", []),
    ],
)
def test_what_it_points_to_in_other_files(inner, outside):
    assert scan(inner).outside == outside


def nested(inner):
    packed = base64.b64encode(f"<svg {HEAD}>{inner}</svg>".encode()).decode()
    return f"<image href='data:image/svg+xml;base64,{packed}'/>"


def test_drawings_within_drawings_are_looked_through_to_the_second():
    found = scan(nested("<image href='deep.png'/><text font-family='A'/><mask/>"))
    assert found.outside == ["deep.png"] and found.has_text and "A" in found.families
    assert found.layers == 1
    assert scan(nested(nested("<image href='deeper.png'/>"))).outside == ["deeper.png"]
    with pytest.raises(SwollenSvg):
        scan(nested(nested(nested("<g/>"))))
    # A drawing is one by what it holds, too.
    hidden = base64.b64encode(b"x").decode()
    assert scan(f"<image href='data:image/png;base64,{hidden}'/>").outside == []
    plain = "%3Csvg xmlns=%22http://www.w3.org/2000/svg%22>%3Cimage href=%22d.png%22/>%3C/svg>"
    assert scan(f"<image href='data:image/svg+xml,{plain}'/>").outside == ["d.png"]


@pytest.mark.parametrize(("deep", "swollen"), [(199, False), (200, True)])
def test_elements_lie_two_hundred_deep_at_most(deep, swollen):
    text = "<g>" * deep + "</g>" * deep
    if swollen:
        with pytest.raises(SwollenSvg):
            scan(text)
    else:
        scan(text)


def test_elements_are_counted(monkeypatch):
    monkeypatch.setattr(svg_scan, "_MOST_ELEMENTS", 5)
    scan("<g/>" * 4)
    with pytest.raises(SwollenSvg):
        scan("<g/>" * 5)


def copies(times, of="a"):
    return f"<use href='#{of}'/>" * times


@pytest.mark.parametrize(
    ("inner", "elements"),
    [
        # The root, two elements of a group, three copies, and twice three elements more.
        (f"<g id='a'><g/><g/></g>{copies(3)}", 1 + 3 + 3 + 9),
        # A copy of copies: the root, groups of two and three elements, two copies; those of the
        # second group unfold to two each, and it to seven each.
        (f"<g id='a'><g/></g><g id='b'>{copies(2)}</g>{copies(2, 'b')}", 1 + 2 + 3 + 2 + 4 + 14),
        (copies(3, "nothing"), 4),
        # A ring: the renderer leaves those out.
        (f"<g id='a'>{copies(1)}</g>", None),
    ],
)  # fmt: skip
def test_copies_unfold(inner, elements, monkeypatch):
    if elements is None:
        scan(inner)
        return
    low, high = 0, 200
    while low < high:  # the least that is allowed
        middle = (low + high) // 2
        monkeypatch.setattr(svg_scan, "_MOST_COPIES", middle)
        try:
            scan(inner)
        except SwollenSvg:
            low = middle + 1
        else:
            high = middle
    assert low == elements


def test_rings_of_any_length_end():
    ring = "".join(f"<g id='n{k}'><use href='#n{(k + 1) % 50}'/></g>" for k in range(50))
    scan(ring)
    chain = "".join(f"<g id='n{k}'><use href='#n{k + 1}'/></g>" for k in range(195))
    scan(chain)
    with pytest.raises(SwollenSvg):
        scan("".join(f"<g id='n{k}'><use href='#n{k + 1}'/></g>" for k in range(300))
             + "<use href='#n0'/>")  # fmt: skip


@pytest.mark.parametrize(
    "text",
    [
        "",
        "<svg",
        "<svg></g>",
        "<html/>",
        "<svg xmlns='http://other'/>",
        f"<svg {HEAD}>\ud800</svg>",
    ],
)
def test_what_is_no_drawing_is_broken(text):
    with pytest.raises(BrokenSvg):
        scan_svg(text)


def test_a_root_without_a_namespace_is_taken():
    assert scan_svg("<svg width='1in' height='1in'/>").inches == (1, 1)


@pytest.mark.parametrize(
    ("data", "text"),
    [
        ("<svg>ü</svg>".encode(), "<svg>ü</svg>"),
        ("\ufeff<svg/>".encode(), "<svg/>"),
        ("<svg>ü</svg>".encode("utf-16"), "<svg>ü</svg>"),
        ("\ufeff<svg/>".encode("utf-16-be"), "<svg/>"),
        (
            "<?xml version='1.0' encoding='latin-1'?>ü".encode("latin-1"),
            "<?xml version='1.0' encoding='latin-1'?>ü",
        ),
    ],
)
def test_the_encoding_is_by_its_mark_or_as_declared(data, text):
    assert text_of(data) == text


@pytest.mark.parametrize("data", [b"<svg>\xff</svg>", b"<?xml encoding='no-such'?><svg/>"])
def test_bytes_that_are_no_text_are_broken(data):
    with pytest.raises(BrokenSvg):
        text_of(data)


def test_a_root_of_whole_pixels():
    text = f"<svg {HEAD} width='1in' height=\"2in\" preserveAspectRatio='none'><g/></svg>"
    made = resized(text, scan_svg(text), (100, 201))
    assert made == (
        f'<svg width="100" height="201" viewBox="0 0 96.000000 192.000000" '
        f'preserveAspectRatio="none" {HEAD}><g/></svg>'
    )
    with_view = f"<?xml version='1.0'?><svg {HEAD} viewBox='0 0 1 2'/>"
    made = resized(with_view, scan_svg(with_view), (100.5, 201))
    assert (
        made
        == f"<?xml version='1.0'?><svg width=\"100.5\" height=\"201\" {HEAD} viewBox='0 0 1 2'/>"
    )


def test_a_part_is_a_view_of_the_whole():
    text = f"<svg {HEAD} viewBox='0 0 1 2'/>"
    made = windowed(text, scan_svg(text), (50, 60), CropWindow(0.25, 0.5, 0.75, 0.8))
    # Half of the width and three tenths of the height: 100 x 200 pixels are the whole.
    assert 'viewBox="25.000000 100.000000 50 60"' in made
    assert 'width="50" height="60"' in made
    assert '<svg width="100" height="200"' in made
    assert made.endswith("</svg>")
