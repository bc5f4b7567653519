"""Several art files on one film: what lies where, who is refused or left, and what is written."""

from __future__ import annotations

import json

import numpy as np
import pytest
from PIL import Image, ImageDraw

from filmhand.errors import Reason
from filmhand.pipeline.gang import make_gang
from filmhand.pipeline.make_words import MakeNote
from filmhand.profile.read.load import read_profile
from filmhand.request import JobRequest

SAID = {
    "sheet": "5 x 5 in",
    "dpi": "300",
    "lpi": "25",
    "dot": "round",
    "threshold": "50",
    "mesh": "43-80",
    "margin": "0.25 in",
    "angle": "22.5",
    "write": "[png, tiff]",
    "gang": "10 min",
    "art": "{fit: own}",
}


def profile_of(**keys):
    text = "".join(f"{key}: {value}\n" for key, value in (SAID | keys).items())
    return read_profile(text, name="small", file="small.yaml")


class Shop:
    """Art files of a folder, and the gang made of them."""

    def __init__(self, folder):
        self.folder = folder
        self.count = 0

    def shapes(self, name, size=(300, 220), dpi=300):
        picture = Image.new("L", size, 255)
        draw = ImageDraw.Draw(picture)
        # Different for each name, and with no symmetry that could hide a wrong place.
        step = 20 + 7 * len(name) + sum(map(ord, name)) % 30
        draw.rectangle((15, 15, 40 + step, 60), fill=0)
        draw.ellipse((size[0] // 2, 40, size[0] - 20, size[1] - 30), fill=0)
        draw.polygon([(20, size[1] - 20), (60 + step, size[1] - 25), (40, 90)], fill=0)
        picture.save(self.folder / name, dpi=(dpi, dpi))

    def ramp(self, name, size=(300, 200), dpi=300):
        row = np.linspace(20, 235, size[0]).astype(np.uint8)
        picture = Image.fromarray(np.tile(row, (size[1], 1)))
        picture.save(self.folder / name, dpi=(dpi, dpi))

    def ticket(self, name, text):
        (self.folder / f"{name}.ticket.yaml").write_text(text)

    def gang(self, *names, profile=None):
        self.count += 1
        inside = self.folder / f"work-{self.count}"
        for part in ("out", "scratch"):
            (inside / part).mkdir(parents=True)
        requests = []
        for name in names:
            ticket = self.folder / f"{name}.ticket.yaml"
            requests.append(
                JobRequest(
                    art=self.folder / name,
                    name=name,
                    profile=profile or profile_of(),
                    out=inside / "out",
                    scratch=inside / "scratch",
                    ticket=ticket if ticket.exists() else None,
                )
            )
        return make_gang(requests)


@pytest.fixture
def shop(tmp_path):
    return Shop(tmp_path)


def film_of(result):
    (path,) = {film.files["png"] for film in result.placed.values()}
    with Image.open(path) as picture:
        return ~np.asarray(picture.convert("L")).astype(bool)  # True = ink


def place_of(film):
    gang = film.record["gang"]
    return [round(gang[key] * 300 / 25.4) for key in ("y_mm", "x_mm")]


def ink_of(path):
    with Image.open(path) as picture:
        return np.asarray(picture) < 128


def test_each_art_lies_where_its_record_says(shop):
    names = ["one.png", "two.png", "three.png"]
    for name in names:
        shop.shapes(name)
    result = shop.gang(*names)
    assert (result.refused, result.alone, result.left) == ({}, {}, [])
    ink = film_of(result)
    assert ink.shape == (1500, 1500)
    for number, name in enumerate(names):
        film = result.placed[number]
        top, left = place_of(film)
        wanted = ink_of(shop.folder / name)
        # Line art at the film's own resolution passes unchanged.
        assert np.array_equal(ink[top : top + 220, left : left + 300], wanted)
        assert film.record["source"]["name"] == name
        assert film.record["gang"]["with"] == [other for other in names if other != name]
        assert film.record["treated"] == "line"
        assert {check["name"] for check in film.record["checks"]} >= {"narrowest stroke"}


def test_mirrored_film_has_them_mirrored(shop):
    shop.shapes("one.png")
    shop.shapes("two.png")
    plain = film_of(shop.gang("one.png", "two.png"))
    result = shop.gang("one.png", "two.png", profile=profile_of(film="{mirror: true}"))
    ink = film_of(result)
    for number, name in enumerate(["one.png", "two.png"]):
        top, left = place_of(result.placed[number])
        wanted = ink_of(shop.folder / name)[:, ::-1]
        assert np.array_equal(ink[top : top + 220, left : left + 300], wanted)
    assert ink.sum() != plain.sum()  # the label says so


def test_tone_and_line_by_one_ticket_and_another(shop):
    shop.ramp("ramp.png")
    shop.shapes("logo.png")
    shop.ramp("fine.png")
    shop.ticket("fine.png", "lpi: 20\nfor: class 4\n")
    result = shop.gang("ramp.png", "logo.png", "fine.png")
    records = [result.placed[number].record for number in range(3)]
    assert [record["treated"] for record in records] == ["tone", "line", "tone"]
    assert [record["screen"] and record["screen"]["lpi_asked"] for record in records] == [
        25,
        None,
        20,
    ]
    assert records[2]["for"] == "class 4"
    assert records[2]["gang"]["with"] == ["ramp.png", "logo.png"]
    for record in records:
        json.dumps(record)
        assert record["film"]["sha256"] == records[0]["film"]["sha256"]


def test_one_lattice_runs_through_all_of_a_screen(shop):
    flat = Image.new("L", (260, 160), 128)
    for name in ("a.png", "b.png"):
        flat.save(shop.folder / name, dpi=(300, 300))
    profile = profile_of(
        art="{fit: own, treat: tone}", tone="{endpoints: off}", marks="{label: false}"
    )
    result = shop.gang("a.png", "b.png", profile=profile)
    ink = film_of(result)
    # The middle of a flat, clear of what mending does at edges, is the one pattern of the sheet.
    pieces = []
    for film in result.placed.values():
        top, left = place_of(film)
        pieces.append((top + 60, left + 60))
    (y0, x0), (y1, x1) = pieces
    from filmhand.pipeline.render.screen_plan import plan_screen
    from filmhand.pipeline.render.tile_cache import tile_of
    from filmhand.screen.screener import Screener

    level = round((128 / 255) * 65535)
    tone = np.full((40, 140), 65535 - level, np.uint16)
    tile = tile_of(plan_screen(profile), None)
    for top, left in ((y0, x0), (y1, x1)):
        wanted = Screener(tile, column=left, width=140).cut(tone, row=top)
        assert np.mean(wanted != ink[top : top + 40, left : left + 140]) < 0.002


def test_the_same_drops_give_the_same_bytes(shop):
    for name in ("one.png", "two.png"):
        shop.shapes(name)
    shop.ramp("ramp.png")
    names = ["one.png", "ramp.png", "two.png"]
    first, again = shop.gang(*names), shop.gang(*names)
    for number in range(3):
        one, other = first.placed[number], again.placed[number]
        assert one.record == other.record
        assert one.proof.read_bytes() == other.proof.read_bytes()
        for form, path in one.files.items():
            assert path.read_bytes() == other.files[form].read_bytes()


def test_one_that_is_refused_takes_no_room(shop):
    for name in ("one.png", "two.png"):
        shop.shapes(name)
    Image.new("L", (300, 200), 255).save(shop.folder / "bare.png", dpi=(300, 300))
    shop.ramp("coarse.png", size=(20, 14), dpi=10)
    (shop.folder / "broken.png").write_bytes((shop.folder / "one.png").read_bytes()[:200])
    names = ["bare.png", "one.png", "coarse.png", "broken.png", "two.png"]
    result = shop.gang(*names)
    assert {n: refused.reason for n, refused in result.refused.items()} == {
        0: Reason.BLANK,
        2: Reason.TOO_SMALL,
        3: Reason.DAMAGED,
    }
    assert sorted(result.placed) == [1, 4]
    alone = shop.gang("one.png", "two.png")
    assert np.array_equal(film_of(result), film_of(alone))


def test_those_without_room_are_left_in_order(shop):
    names = [f"art{number}.png" for number in range(4)]
    for name in names:
        shop.shapes(name, size=(600, 560))
    result = shop.gang(*names)
    assert sorted(result.placed) == [0, 1]
    assert result.left == [2, 3]


def test_who_goes_alone(shop):
    shop.shapes("one.png")
    shop.shapes("two.png")
    shop.ticket("two.png", "gang: no\n")
    shop.shapes("large.png", size=(1300, 1280))
    pages = [Image.new("L", (300, 220), shade) for shade in (100, 160)]
    pages[0].save(shop.folder / "pages.tif", save_all=True, append_images=pages[1:], dpi=(300, 300))
    shop.shapes("chosen.png")
    shop.ticket("chosen.png", "patch: A1\n")
    result = shop.gang("one.png", "two.png", "large.png", "pages.tif", "chosen.png")
    assert result.alone == {
        0: "nothing else fits on its sheet",
        1: "its ticket says gang: false",
        2: "it is too large to share a sheet",
        3: "it has several pages",
        4: "its ticket chooses a patch of a trial",
    }
    assert not result.placed
    assert not result.left


def test_art_that_is_repeated_shares_no_sheet(shop):
    for name in ("one.png", "two.png", "three.png"):
        shop.shapes(name)
    shop.ticket("two.png", "art: {repeat: 2 x 1}\n")
    result = shop.gang("one.png", "two.png", "three.png")
    assert result.alone == {1: "its ticket lays it on the sheet several times"}
    assert sorted(result.placed) == [0, 2]
    # A ticket may take back what the profile says of all.
    shop.ticket("two.png", "art: {repeat: off}\n")
    result = shop.gang(
        "one.png", "two.png", profile=profile_of(art="{fit: own, repeat: 2 x 1}", gang="off")
    )
    assert result.alone[0] == "it lies on its sheet several times"
    assert result.alone[1] == "nothing else fits on its sheet"


def test_a_wrong_ticket_is_refused_alone(shop):
    for name in ("one.png", "two.png", "three.png"):
        shop.shapes(name)
    shop.ticket("two.png", "lpi: many\n")
    result = shop.gang("one.png", "two.png", "three.png")
    assert result.refused[1].reason is Reason.BAD_TICKET
    assert sorted(result.placed) == [0, 2]


def test_marks_stand_once_and_labels_stand_clear(shop):
    for name in ("one.png", "two.png"):
        shop.shapes(name)
    bare = film_of(shop.gang("one.png", "two.png", profile=profile_of(marks="{label: false}")))
    result = shop.gang("one.png", "two.png", profile=profile_of(marks="{steps: true}"))
    ink = film_of(result)
    # The solid patch of 8 mm is the only solid square of that size, at the foot on the right.
    side = round(8 / 25.4 * 300)
    assert bare[1425 - side : 1425, 1425 - side : 1425].all()
    # Below each art, within 9 mm, something is written.
    for film in result.placed.values():
        top, left = place_of(film)
        below = ink[top + 222 : top + 220 + 100, left : left + 300]
        assert 0.01 < below.mean() < 0.4


def test_what_the_sheet_reminds_of_stands_once_with_each_art(shop):
    for name in ("one.png", "two.png", "three.png"):
        shop.ramp(name)
    result = shop.gang(
        "one.png", "two.png", "three.png", profile=profile_of(film="{negative: true}")
    )
    assert sorted(result.placed) == [0, 1, 2]
    for film in result.placed.values():
        told = MakeNote.NEGATIVE.say()
        assert film.record["reminders"].count(told) == 1
        assert film.record["notes"].count(told) == 1
