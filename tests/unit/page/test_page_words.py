"""The words on the status page and in the note, in their places."""

from __future__ import annotations

import re
from typing import Any

import pytest

from filmhand.errors import Quantity, Reason, Refused
from filmhand.page.page_profiles import KEPT
from filmhand.page.status_page import status_page
from filmhand.page.why_note import quantity_text, why_note


def page_of(**changes: Any) -> str:
    base: dict[str, Any] = {
        "station": "/srv/shop",
        "station_name": "shop",
        "at": "2026-03-01T10:00:00Z",
        "running": True,
        "faults": [],
        "counts": {"waiting": 4, "working": 3, "made": 2, "refused": 1},
        "profiles": [],
        "made": [],
        "refused": [],
    }
    return status_page(base | changes)


def profile(**changes: Any) -> dict[str, Any]:
    base = {"name": "small", "link": "small", "state": "working", "paused": None, "makes": "films"}
    nothing = {"waiting": [], "waiting_count": 0, "in_work": [], "left_alone": []}
    return base | nothing | changes


def plain(html: str) -> str:
    """What is read, with a bar between cells and other parts."""
    html = re.sub(r"(?s)<(style|script)[ >].*?</\1>", "", html)
    html = re.sub(r"</(h1|h2|h3|p|li|span|button|title|b|summary|label)>", "|", html)
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", html))


ENTRY = {
    "job": "j",
    "at": "2026-03-01T10:00:00Z",
    "profile": "small",
    "name": "a.png",
    "films": [{"folder": "", "stem": "a", "files": ["a.pdf", "a.tif"]}],
    "say": "Too small.",
    "do": "Send a larger one.",
}


def test_each_list_has_its_title_and_its_entries_in_order() -> None:
    waiting = [{"name": "w.png", "why": "it is settling"}]
    alone = [{"name": "pipe", "why": "a pipe, not a file"}]
    work = [{"name": "b.png", "seconds": 1.6}]
    part = profile(waiting=waiting, waiting_count=1, in_work=work, left_alone=alone)
    read = plain(
        page_of(
            counts={"waiting": 1, "working": 1, "made": 1, "refused": 1},
            profiles=[part],
            made=[ENTRY],
            refused=[ENTRY | {"found": {"value": 19, "unit": "ppi"}}],
        )
    )
    for part_of_page in (
        "To look at|a.png|&#10007; refused|small|2026-03-01 10:00 UTC|Too small.|"
        "Found: 19 pixels per inch.|Send a larger one.|Put away||",
        "What happened, newest first|a.png|&#10007; refused|small|2026-03-01 10:00 UTC|Too small.|",
        "a.png|&#10003; made|small|2026-03-01 10:00 UTC|a.pdf|a.tif|proof|record|",
        "The profiles|small|working|films|drop folder|In work|b.png for 2 s||"
        "Waiting, in order|w.png it is settling||Left alone|pipe a pipe, not a file||",
    ):
        assert part_of_page in read, part_of_page


def test_the_sums_and_the_title() -> None:
    read = plain(page_of())
    assert "7 to do, 2 made, 1 refused - shop|" in read
    assert "4| waiting|3| in work|2| made|1| refused|" in read


def test_empty_lists_say_so_and_what_is_left_alone_is_only_told_if_there_is_any() -> None:
    read = plain(page_of(profiles=[profile()]))
    assert "To look at|Nothing was refused and nothing is held.|" in read
    assert "newest first|Nothing yet." in read
    assert "Nothing waits.|" in read
    assert "Left alone" not in read


def test_faults_and_pauses_are_notices() -> None:
    page = page_of(faults=["f1", "f2"], profiles=[profile(paused="disk full"), profile()])
    notices = re.findall(r'<p class="notice">(.*?)</p>', page)
    assert [plain(one) for one in notices] == ["f1", "f2", "small: disk full"]
    assert "at work" in page
    assert "not running" in page_of(running=False)


@pytest.mark.parametrize(
    ("count", "told"), [(5, ""), (6, "and 1 more"), (KEPT + 50, f"and {KEPT + 45} more")]
)
def test_how_many_wait(count: int, told: str) -> None:
    waiting = [{"name": f"w{number}.png", "why": "it is next"} for number in range(count)]
    counts = {"waiting": count, "working": 0, "made": 0, "refused": 0}
    part = profile(waiting=waiting, waiting_count=count)
    page = page_of(profiles=[part], counts=counts)
    summaries = re.findall("<summary>(.*?)</summary>", page)
    assert summaries == ([told] if told else [])
    assert page.count("it is next") == min(count, KEPT)
    assert KEPT == 200


def test_joiners_stay_and_direction_marks_do_not() -> None:
    name = "\U0001f469\u200d\U0001f3a8 a\u00a0b\u202f\u200c\u202e.png"
    page = page_of(profiles=[profile(in_work=[{"name": name, "seconds": 1}])])
    assert name.replace("\u202e", "\ufffd") in page


def test_the_whole_note() -> None:
    refused = Refused(
        Reason.TOO_SMALL,
        "Dots of a " + "fine-grained " * 8 + "picture.",
        "Send it again.",
        found=Quantity(19, "ppi"),
        needed=Quantity(25, "ppi"),
    )
    assert why_note("a.png", refused, profile="small") == (
        "No film was made for small from this file:\n"
        "  a.png\n"
        "\n"
        "Dots of a fine-grained fine-grained fine-grained fine-grained fine-grained\n"
        "fine-grained fine-grained fine-grained picture.\n"
        "\n"
        "  Found:   19 pixels per inch\n"
        "  Needed:  25 pixels per inch\n"
        "\n"
        "What you can do:\n"
        "  Send it again.\n"
        "\n"
        "The file lies beside this note, unchanged. To try again, put it back into\n"
        "drop.\n"
    )


def test_a_note_breaks_no_words() -> None:
    long = "x" * 90
    broken = "fine-" * 15 + "x"  # is not broken at its hyphens, for it may be a file's name
    refused = Refused(Reason.BLANK, f"a {long} b", f"see {broken} b")
    note = why_note("a.png", refused)
    assert f"\n\na\n{long}\nb\n" in note
    assert f"  see\n  {broken}\n  b\n" in note
    assert note.startswith("No film was made from this file:\n  a.png\n")


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        ("4 x 5", "mm", "4 x 5 mm"),
        ("none", "mm", "none"),
        (1234567.0, "lpi", "1.235e+06 lines per inch"),
        (1234567, "bytes", "1234567 bytes"),
        (50, "%", "50 %"),
        (7, "", "7"),
    ],
)
def test_quantities_in_words(value: float | str, unit: str, text: str) -> None:
    assert quantity_text(Quantity(value, unit)) == text
    assert quantity_text({"value": value, "unit": unit}) == text


@pytest.mark.parametrize("key", ["made", "refused"])
def test_the_number_of_films_is_that_of_all_and_not_of_those_listed(key: str) -> None:
    """The ledger hands out the newest only."""
    counts = {"waiting": 0, "working": 0, "made": 0, "refused": 0, key: 5000}
    page = page_of(counts=counts, **{key: [ENTRY, ENTRY]})
    assert "4998 more are not shown here; filmhand history tells of them." in plain(page)
