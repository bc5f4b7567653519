"""Documents of which a page gives no film: the others do, and everything tells of it."""

from __future__ import annotations

import json
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from filmhand.disk.beneath import Beneath
from filmhand.errors import Reason, Refused
from filmhand.jobs import ledger
from filmhand.page.status_page import status_page
from filmhand.pipeline.gang import make_gang
from filmhand.pipeline.make import make_films
from filmhand.profile.read.load import read_profile
from filmhand.request import FinishedFilm, JobRequest

PROFILE = (
    "sheet: 120 x 100 mm\ndpi: 300\nlpi: 25\ndot: round\nthreshold: 50\nmesh: none\n"
    "margin: 2 mm\nwrite: png\n"
    "art: {{treat: tone}}\nlimits: {{pages: {0}}}\n"
)
BLANK, TONE = "blank", "tone"


def document(*pages: str) -> bytes:
    rng = np.random.default_rng(2)
    images = [
        Image.fromarray(
            np.full((90, 120), 255, np.uint8)
            if page == BLANK
            else rng.integers(60, 180, (90, 120)).astype(np.uint8)
        ).resize((480, 360))
        for page in pages
    ]
    buffer = BytesIO()
    images[0].save(buffer, "TIFF", save_all=True, append_images=images[1:])
    return buffer.getvalue()


Make = Callable[..., list[FinishedFilm]]


@pytest.fixture
def request_of(tmp_path: Path) -> Callable[..., JobRequest]:
    def build(
        data: bytes, *, name: str = "doc.tif", ticket: str = "", most: int = 50
    ) -> JobRequest:
        (tmp_path / "art").write_bytes(data)
        for folder in ("out", "scratch"):
            (tmp_path / folder).mkdir(exist_ok=True)
        beside = tmp_path / "art.ticket.yaml" if ticket else None
        if beside:
            beside.write_text(ticket)
        profile = read_profile(PROFILE.format(most), name="test", file="test.yaml")
        return JobRequest(
            art=tmp_path / "art", name=name, profile=profile, ticket=beside,
            out=tmp_path / "out", scratch=tmp_path / "scratch", threads=2,
        )  # fmt: skip

    return build


@pytest.fixture
def films(request_of: Callable[..., JobRequest]) -> Make:
    return lambda data, **how: make_films(request_of(data, **how)).films


def suffixes(made: list[FinishedFilm]) -> list[str]:
    return [film.suffix for film in made]


def test_a_blank_page_is_left_out_and_named(films: Make, tmp_path: Path) -> None:
    made = films(document(TONE, BLANK, TONE))
    assert suffixes(made) == ["-p01", "-p03"]
    for film in made:
        assert [(one["page"], one["reason"]) for one in film.record["left_out"]] == [(2, "blank")]
        assert all(path.exists() for path in film.files.values())
    told = ["Page 2 was left out: " in "".join(film.record["notes"]) for film in made]
    assert told == [True, False]
    assert not list((tmp_path / "scratch").iterdir())


def test_pages_that_are_left_out_for_one_reason_are_told_in_one_line(films: Make) -> None:
    made = films(document(TONE, BLANK, BLANK, BLANK, TONE, BLANK))
    told = [[note for note in film.record["notes"] if "left out" in note] for film in made]
    assert [len(notes) for notes in told] == [1, 0]
    assert told[0][0].startswith("Pages 2 to 4 and 6 were left out: ")
    assert [one["page"] for one in made[1].record["left_out"]] == [2, 3, 4, 6]


def test_a_document_without_such_pages_tells_of_none(films: Make) -> None:
    made = films(document(TONE, TONE))
    assert [film.record["left_out"] for film in made] == [[], []]


def test_a_broken_page_is_left_out(films: Make) -> None:
    data = bytearray(document(TONE, TONE, TONE))
    # Tag 259, which tells how a page is packed, a short number (TIFF 6.0).
    packed = [at for at in range(len(data) - 4) if data[at : at + 4] == b"\x03\x01\x03\x00"]
    assert len(packed) == 3
    data[packed[1] + 8 : packed[1] + 10] = b"\x05\x00"  # the second one says LZW, and is plain
    made = films(bytes(data))
    assert suffixes(made) == ["-p01", "-p03"]
    assert made[0].record["left_out"][0]["reason"] == "damaged"


def test_where_no_page_gives_a_film_the_document_is_refused_by_its_first(films: Make) -> None:
    with pytest.raises(Refused, match=r"None of the pages 1, 2 became a film\. Page 1: ") as caught:
        films(document(BLANK, BLANK))
    assert caught.value.reason is Reason.BLANK
    with pytest.raises(Refused) as caught:
        films(document(BLANK))
    assert "page" not in caught.value.say.lower()


def test_pages_of_a_ticket_are_made_and_no_others(films: Make) -> None:
    made = films(document(TONE, BLANK, TONE, TONE), ticket="pages: 1, 3-4\n")
    assert suffixes(made) == ["-p01", "-p03", "-p04"] and not made[0].record["left_out"]
    assert suffixes(films(document(TONE, TONE), ticket="pages: 2\n")) == ["-p02"]


def test_pages_of_the_name_hold_unless_the_ticket_says_otherwise(films: Make) -> None:
    data = document(TONE, TONE, TONE)
    made = films(data, name="doc [pages 2-3].tif")
    assert suffixes(made) == ["-p02", "-p03"]
    assert any("pages 2-3" in note for note in made[0].record["notes"])
    made = films(data, name="doc [pages 2-3].tif", ticket="pages: 1\n")
    assert suffixes(made) == ["-p01"]


def test_one_chosen_page_that_gives_no_film_is_refused_as_it_is(films: Make) -> None:
    with pytest.raises(Refused) as caught:
        films(document(TONE, BLANK), ticket="pages: 2\n")
    assert caught.value.reason is Reason.BLANK and "None of" not in caught.value.say


@pytest.mark.parametrize(
    ("ticket", "words"),
    [("pages: 2-5\n", "it has 2 pages"), ("pages: 5-2\n", "pages must be pages from 1")],
)
def test_pages_that_cannot_be_are_a_bad_ticket(films: Make, ticket: str, words: str) -> None:
    with pytest.raises(Refused, match=words) as caught:
        films(document(TONE, TONE), ticket=ticket)
    assert caught.value.reason is Reason.BAD_TICKET


def test_the_limit_of_pages_is_for_those_that_are_chosen(films: Make) -> None:
    data = document(TONE, TONE, TONE)
    with pytest.raises(Refused, match="3 pages; the profile allows at most 2") as caught:
        films(data, most=2)
    assert "(pages: 1-2 in " in caught.value.do
    assert suffixes(films(data, most=2, ticket="pages: 2-3\n")) == ["-p02", "-p03"]
    with pytest.raises(Refused, match="has 3 pages"):
        films(data, most=2, ticket="pages: 1-3\n")


def test_a_document_goes_alone_also_with_one_page_chosen(
    request_of: Callable[..., JobRequest],
) -> None:
    one = request_of(document(TONE, TONE), ticket="pages: 2\n")
    assert make_gang([one, one]).alone == dict.fromkeys((0, 1), "it has several pages")


def about(record: dict[str, Any]) -> dict[str, Any]:
    return ledger.film_about((), "doc-p01", ["doc-p01.png"], record)


def test_the_page_shows_what_was_left_out(films: Make) -> None:
    record = films(document(TONE, BLANK, TONE))[0].record
    entry = {"job": "j", "at": "2026-11-28T12:00:00Z", "profile": "p", "name": "doc.tif",
             "films": [about(record)]}  # fmt: skip
    status = {
        "profiles": [], "made": [entry], "refused": [], "faults": [], "running": True,
        "counts": {"waiting": 0, "working": 0, "made": 1, "refused": 0},
        "at": "2026-11-28T12:00:00Z", "station": "/s", "station_name": "s",
    }  # fmt: skip
    assert "Page 2 was left out: " in status_page(status)


@pytest.mark.parametrize(
    "forged", ["x", [{"page": "<b>", "say": "x"}], [{"page": 1}], [{"page": 1, "say": 5}], {"a": 1}]
)
def test_forged_records_show_nothing(forged: object) -> None:
    assert "left_out" not in about({"left_out": forged})


def test_very_many_pages_are_counted_on_the_page() -> None:
    told = about({"left_out": [{"page": n, "say": "It is blank."} for n in range(1, 31)]})
    assert len(told["left_out"]) == 21 and told["left_out"][-1] == "And 10 more pages."


def test_a_record_read_back_tells_of_them(films: Make, tmp_path: Path) -> None:
    record = films(document(TONE, BLANK))[0].record
    record |= {"job": "20261128T120000-0a1b2c3d", "at": "2026-11-28T12:00:00Z"}
    record["film"]["files"] = {"png": "doc-p01.png"}
    top = Beneath(tmp_path)
    (top / "doc-p01.json").path.write_text(json.dumps(record))
    entry = ledger.of_record("p", top / "doc-p01.json", top)
    assert entry is not None
    assert entry.about["films"][0]["left_out"][0].startswith("Page 2 was left out: ")
