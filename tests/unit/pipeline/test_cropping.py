"""Cutting, copies and several films through the whole job, seen on the finished bits."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from filmhand.errors import Reason, Refused
from filmhand.pipeline.make import make_films
from filmhand.pipeline.render.screen_plan import plan_screen
from filmhand.profile.read.load import read_profile
from filmhand.request import JobRequest
from filmhand.screen.screener import Screener

PROFILE = {
    "sheet": "120 x 100 mm", "dpi": "300", "lpi": "25", "dot": "round", "threshold": "50",
    "mesh": "none", "margin": "2 mm", "marks": "{label: no, ruler: no, solid: no}", "write": "png",
}  # fmt: skip
SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="{0}mm" height="{1}mm" '
    'viewBox="0 0 {0} {1}">{2}</svg>'
)
LINE = "treat: line, turn: never"


def profile_of(**keys):
    text = "".join(f"{key}: {value}\n" for key, value in (PROFILE | keys).items())
    return read_profile(text, name="test", file="test.yaml")


@pytest.fixture
def films(tmp_path):
    """films(picture, name=…, mask=…, **keys): what is made of a picture, with its bits as bool."""

    def make(picture, /, *, name="art.png", mask=None, ppi=None, **keys):
        path = tmp_path / name
        if isinstance(picture, bytes):
            path.write_bytes(picture)
        else:
            Image.fromarray(picture).save(path, **({} if ppi is None else {"dpi": (ppi, ppi)}))
        for folder in ("out", "scratch"):
            (tmp_path / folder).mkdir(exist_ok=True)
        beside = None
        if mask is not None:
            beside = tmp_path / "mask.png"
            Image.fromarray(mask).save(beside)
        request = JobRequest(
            art=path, name=name, profile=profile_of(**keys), mask=beside,
            out=tmp_path / "out", scratch=tmp_path / "scratch", threads=2,
        )  # fmt: skip
        made = make_films(request).films
        assert not list((tmp_path / "scratch").iterdir())
        return [(film, bits_of(film)) for film in made]

    return make


def bits_of(film):
    (path,) = film.files.values()
    with Image.open(path) as image:
        return ~np.asarray(image.convert("1"))


def shapes(width, height):
    """A lopsided drawing: a wedge, a bar and a dot, black on white, touching all four sides."""
    y, x = np.mgrid[:height, :width] / np.array([[[height]], [[width]]])
    ink = (y > x) & (x < 0.6)
    ink |= (y < 0.1) | (x > 0.95)
    ink |= np.hypot(x - 0.75, y - 0.6) < 0.1
    return np.where(ink, 0, 255).astype(np.uint8)


def test_the_sides_are_cut_off_and_told(films):
    art = shapes(400, 300)
    crop = "{left: 10 %, top: 20 %, right: 5 %, bottom: 10 %}"
    ((film, bits),) = films(art, art=f"{{{LINE}, crop: {crop}}}")
    ((_, wanted),) = films(np.ascontiguousarray(art[60:270, 40:380]), art=f"{{{LINE}}}")
    assert np.array_equal(bits, wanted)
    assert film.record["art"]["cut"] == {
        "left_pct": 10, "top_pct": 20, "right_pct": 5, "bottom_pct": 10,
    }  # fmt: skip
    assert film.record["source"]["width_px"] == 400
    assert any("40 pixels on the left, 60 pixels at the top" in n for n in film.record["notes"])


def test_lengths_are_those_of_the_art_at_its_own_size_or_refused(films):
    art = shapes(400, 300)
    wishes = f"{{{LINE}, fit: own, crop: {{left: 0.5 in, to: 1 x 1}}}}"
    ((film, bits),) = films(art, ppi=100, art=wishes)
    assert film.record["art"]["width_mm"] == pytest.approx(76.2, abs=0.1)
    ((_, wanted),) = films(
        np.ascontiguousarray(art[:, 75:375]), ppi=100, art=f"{{{LINE}, fit: own}}"
    )
    assert np.array_equal(bits, wanted)
    with pytest.raises(Refused) as refused:
        films(art, art=wishes)
    assert refused.value.reason is Reason.TOO_SMALL


def test_the_proportion_is_taken_of_what_is_left_between_the_cut_sides(films):
    art = shapes(400, 300)
    ((film, bits),) = films(art, art=f"{{{LINE}, crop: {{top: 20 %, to: 1 x 1}}}}")
    ((_, wanted),) = films(np.ascontiguousarray(art[60:, 80:320]), art=f"{{{LINE}}}")
    assert np.array_equal(bits, wanted)
    assert film.record["art"]["cut"] == {
        "left_pct": 20, "top_pct": 20, "right_pct": 20, "bottom_pct": 0,
    }  # fmt: skip


def test_empty_borders_are_cut_off_only_when_asked(films):
    art = np.pad(shapes(300, 300), ((20, 200), (150, 40)), constant_values=255)
    ((trimmed, bits),) = films(art, art=f"{{{LINE}, trim: auto}}")
    ((whole, _),) = films(art, art=f"{{{LINE}}}")
    assert trimmed.record["art"]["cut"]["bottom_pct"] == pytest.approx(197 / 520 * 100, abs=0.5)
    assert whole.record["art"]["cut"] is None
    ((_, wanted),) = films(np.ascontiguousarray(art[17:323, 147:453]), art=f"{{{LINE}}}")
    assert np.array_equal(bits, wanted)
    assert any("empty borders (art.trim)" in note for note in trimmed.record["notes"])
    ((film, _),) = films(shapes(300, 300), art=f"{{{LINE}, trim: auto}}")
    assert any("No empty borders were found" in note for note in film.record["notes"])


def test_a_mask_is_cut_with_its_art(films):
    art = shapes(400, 300)
    mask = np.full((150, 200), 255, np.uint8)
    mask[40:80, 50:150] = 0
    crop = f"{{{LINE}, crop: {{left: 10 %, top: 20 %}}}}"
    ((_, bits),) = films(art, mask=mask, art=crop)
    ((_, wanted),) = films(
        np.ascontiguousarray(art[60:, 40:]),
        mask=np.ascontiguousarray(mask[30:, 20:]),
        art=f"{{{LINE}}}",
    )
    assert np.array_equal(bits, wanted)


def pdf_of(width_mm, height_mm, content):
    """A page of vector commands in millimeters from the foot."""
    points = 72 / 25.4
    stream = f"{points:.6f} 0 0 {points:.6f} 0 0 cm {content}".encode()
    objects = [
        b"<</Type/Catalog/Pages 2 0 R>>",
        b"<</Type/Pages/Kids[3 0 R]/Count 1>>",
        b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 %.4f %.4f]/Contents 4 0 R>>"
        % (width_mm * points, height_mm * points),
        b"<</Length %d>>stream\n%s\nendstream" % (len(stream), stream),
    ]
    out, places = b"%PDF-1.4\n", []
    for number, one in enumerate(objects, 1):
        places.append(len(out))
        out += b"%d 0 obj\n%s\nendobj\n" % (number, one)
    table = b"".join(b"%010d 00000 n \n" % place for place in places)
    return (
        out
        + b"xref\n0 5\n0000000000 65535 f \n%strailer<</Size 5/Root 1 0 R>>\n" % table
        + (b"startxref\n%d\n%%%%EOF\n" % len(out))
    )


def drawn(kind, width, height, boxes):
    """Black boxes (left, top, width, height in mm) as a PDF or an SVG."""
    if kind == "svg":
        body = "".join(f'<rect x="{x}" y="{y}" width="{w}" height="{h}"/>' for x, y, w, h in boxes)
        return SVG.format(width, height, body).encode()
    content = " ".join(f"{x} {height - y - h} {w} {h} re" for x, y, w, h in boxes)
    return pdf_of(width, height, content + " f")


@pytest.mark.parametrize("kind", ["svg", "pdf"])
@pytest.mark.parametrize(
    "wishes", ["crop: {left: 25.4 mm, top: 12.7 mm, right: 12.7 mm, bottom: 25.4 mm}", "trim: auto"]
)
def test_of_a_drawing_the_part_that_is_kept_is_drawn_with_the_pixels_of_the_film(
    films, kind, wishes
):
    # A bar of a quarter of a millimeter: three pixels of the film at this size, so any softness
    # of an enlarged drawing would show.
    boxes = [(30, 15, 25, 2), (30, 40, 25, 0.254), (60, 15, 2, 40)]
    art = drawn(kind, 101.6, 101.6, boxes)
    ((film, bits),) = films(art, name=f"art.{kind}", art=f"{{fit: width 60 mm, {wishes}}}")
    rows, columns = np.flatnonzero(bits.any(axis=1)), np.flatnonzero(bits.any(axis=0))
    kept = film.record["art"]["cut"]
    scale = 60 / (101.6 * (1 - (kept["left_pct"] + kept["right_pct"]) / 100)) * 300 / 25.4
    assert columns[-1] - columns[0] + 1 == pytest.approx(32 * scale, abs=1.5)
    assert rows[-1] - rows[0] + 1 == pytest.approx(40 * scale, abs=1.5)
    left = (120 - 60) / 2 * 300 / 25.4 + (30 - 101.6 * kept["left_pct"] / 100) * scale
    assert columns[0] == pytest.approx(left, abs=2)
    thin = bits[:, columns[0] + 20]
    heights = np.diff(np.flatnonzero(np.diff(np.concatenate([[0], thin, [0]]).astype(int))))[::2]
    assert sorted(heights) == pytest.approx([0.254 * scale, 2 * scale], abs=1)


@pytest.mark.parametrize("look", ["{}", "{mirror: true}", "{negative: true}"])
@pytest.mark.parametrize("turn", [True, False])
def test_copies_of_line_art_are_the_same_to_the_bit(films, look, turn):
    art = shapes(300, 150) if turn else shapes(300, 300)
    repeat = "repeat: 3 x 1" if turn else "repeat: 3 x 2"
    ((film, bits),) = films(art, art=f"{{treat: line, {repeat}, gap: 3.3 mm}}", film=look)
    record = film.record["art"]
    assert record["turned"] == (90 if turn else 0)
    across, down = record["copies"]
    width, height = (round(record[side] / 25.4 * 300) for side in ("width_mm", "height_mm"))
    gap = round(3.3 / 25.4 * 300)
    left = (bits.shape[1] - across * (width + gap) + gap) // 2
    top = (bits.shape[0] - down * (height + gap) + gap) // 2
    parts = [
        bits[y : y + height, x : x + width]
        for y in range(top, top + down * (height + gap), height + gap)
        for x in range(left, left + across * (width + gap), width + gap)
    ]
    assert parts[0].any() and not parts[0].all()
    assert all(np.array_equal(part, parts[0]) for part in parts[1:])
    ((_, single),) = films(
        art, art=f"{{treat: line, fit: width {record['height_mm' if turn else 'width_mm']} mm}}",
        film=look, sheet=f"{100 if turn else 120} x {120 if turn else 100} mm",
    )  # fmt: skip
    if not turn:
        y, x = ((single.shape[axis] - side) // 2 for axis, side in ((0, height), (1, width)))
        assert np.array_equal(single[y : y + height, x : x + width], parts[0])


def test_the_screen_goes_on_over_all_copies(films):
    art = np.full((100, 100), 140, np.uint8)
    art[:50] = 200
    wishes = "{treat: tone, repeat: 3 x 2, gap: 4 mm, detail: off}"
    ((film, bits),) = films(art, art=wishes, tone="{endpoints: off}")
    assert film.record["treated"] == "tone"
    screen = plan_screen(profile_of(art=wishes))
    tile = screen.tile()
    # A flat tone as large as the sheet: every copy shows the dots that lie there.
    flat = np.full(bits.shape, round((1 - 140 / 255) * 65535), np.uint16)
    dots = Screener(tile, column=0, width=bits.shape[1]).cut(flat, row=0)
    width = round(film.record["art"]["width_mm"] / 25.4 * 300)
    gap = round(4 / 25.4 * 300)
    left = (bits.shape[1] - 3 * width - 2 * gap) // 2
    top = (bits.shape[0] - 2 * width - gap) // 2
    for row in (0, 1):
        for column in (0, 1, 2):
            y = top + row * (width + gap) + width * 6 // 10
            x = left + column * (width + gap)
            there = np.s_[y : top + row * (width + gap) + width, x + 8 : x + width - 8]
            assert np.array_equal(bits[there], dots[there])


def test_between_copies_only_cut_marks_are_inked(films):
    ((film, bits),) = films(np.zeros((90, 90), np.uint8) + 100, art="{treat: tone, repeat: 2 x 2}")
    width = round(film.record["art"]["width_mm"] / 25.4 * 300)
    gap = round(5 / 25.4 * 300)
    left = (bits.shape[1] - 2 * width - gap) // 2
    off = round(1 / 25.4 * 300)
    between = bits[:, left + width : left + width + gap]
    rows = np.flatnonzero(between.any(axis=1))
    lines = np.flatnonzero(np.diff(rows) > 1).size + 1
    assert lines == 4 + 3  # four cut lines lie across the gap, three bands hold upright ones
    assert not between[rows[0] :, : off - 3][:, 3:].any()


def test_solid_copies_are_refused_as_solid(films):
    with pytest.raises(Refused) as refused:
        films(np.zeros((90, 90), np.uint8), art="{treat: line, repeat: 2 x 2}")
    assert refused.value.reason is Reason.BLANK


@pytest.mark.parametrize("look", ["{}", "{mirror: true}"])
def test_films_of_large_art_are_named_marked_and_recorded(films, look):
    art = shapes(600, 450)
    found = films(art, art="{treat: line, fit: width 180 mm, tile: auto}", film=look)
    suffixes = [film.suffix for film, _ in found]
    assert suffixes == ["-r1c1", "-r1c2", "-r2c1", "-r2c2"]
    assert [film.proof.name for film, _ in found] == [f"proof{suffix}.jpg" for suffix in suffixes]
    for number, (film, bits) in enumerate(found):
        part = film.record["art"]["part"]
        assert (part["row"], part["column"]) == (number // 2 + 1, number % 2 + 1)
        assert part["overlap_mm"] == pytest.approx(10, abs=0.05)
        assert film.record["film"]["width_px"] == bits.shape[1] == 120 * 300 * 100 // 2540
        assert film.record["art"]["width_mm"] == pytest.approx(180, abs=0.1)
        assert any(f"row {part['row']} of 2, column {part['column']}" in n
                   for n in film.record["notes"])  # fmt: skip
        assert film.record["checks"] == found[0][0].record["checks"]


def test_art_that_fits_stays_one_film_under_tile(films):
    (found,) = films(shapes(300, 200), art="{treat: line, fit: width 80 mm, tile: auto}")
    assert found[0].suffix == "" and found[0].record["art"]["part"] is None


def test_pages_of_large_art_are_named_by_page_and_place(films, tmp_path):
    pages = [Image.fromarray(shapes(600, 300)), Image.fromarray(shapes(600, 300)[::-1])]
    pages[0].save(tmp_path / "pages.tif", save_all=True, append_images=pages[1:])
    data = (tmp_path / "pages.tif").read_bytes()
    wishes = f"{{{LINE}, fit: width 150 mm, tile: auto}}"
    found = films(data, name="pages.tif", art=wishes)
    assert [film.suffix for film, _ in found] == [
        "-p01-r1c1", "-p01-r1c2", "-p02-r1c1", "-p02-r1c2",
    ]  # fmt: skip


def test_a_refusal_for_few_pixels_speaks_of_what_is_left(films):
    art = np.tile(np.linspace(0, 255, 120).astype(np.uint8), (120, 1))
    wishes = "{treat: tone, crop: {left: 50 %}, repeat: 2 x 1}"
    with pytest.raises(Refused) as refused:
        films(art, art=wishes, lpi="60")
    assert refused.value.reason is Reason.TOO_SMALL
    assert "in what is left of it after art.crop and art.trim" in refused.value.do
    # What it offers was made with the same crop and as many copies.
    width = int(refused.value.do.split("no larger than ")[1].split()[0])
    sized = wishes.replace("crop", f"fit: width {width} mm, crop")
    ((film, _),) = films(art, art=sized, lpi="60")
    assert film.record["art"]["copies"] == [2, 1]
