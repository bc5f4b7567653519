"""The printers on the status page: what each does, and nothing that a name could smuggle in."""

from __future__ import annotations

from typing import Any

from filmhand.page.page_printers import printers_part

EVIL = "<script>alert(1)</script>\u202e"


def told(**changes: Any) -> dict[str, Any]:
    printer: dict[str, Any] = {
        "printer": "ipp://film-printer.local/ipp/print",
        "profiles": ["small"],
        "state": "stopped",
        "why": "paper jam",
        "waiting": 7,
        "printing": [{"profile": "small", "film": "one", "printer_job": 3}],
        "held": [{"profile": "large", "why": "another sheet lies in the tray"}],
        "paused": ["plain"],
        "doubtful": [{"profile": "small", "film": "two", "why": "Nobody knows.", "do": "Look."}],
        "doubtful_count": 1,
    }
    return printer | changes


def test_nothing_where_there_is_no_printer() -> None:
    assert printers_part([]) == ""


def test_all_that_is_told_stands_there() -> None:
    page = printers_part([told()])
    for words in (
        "stopped", "paper jam", "7 films wait for it", "At the printer: <bdi>one</bdi>",
        "another sheet lies in the tray", "plain", "<b><bdi>two</bdi></b>", "Nobody knows.",
        "Look.",
    ):  # fmt: skip
        assert words in page
    assert 'class="bad"' in page
    assert "1 film waits for it" in printers_part([told(waiting=1)])
    assert "and 2 more" in printers_part([told(doubtful_count=3)])


def test_an_idle_printer_is_good() -> None:
    nothing: dict[str, Any] = {"printing": [], "held": [], "paused": [], "doubtful": []}
    page = printers_part([told(state="idle", why=None, waiting=0, doubtful_count=0, **nothing)])
    assert 'class="good"' in page and 'class="bad"' not in page and "<ul>" not in page


def test_names_cannot_be_markup() -> None:
    film = {"profile": EVIL, "film": EVIL, "printer_job": 1, "why": EVIL, "do": EVIL}
    page = printers_part(
        [told(printer=EVIL, state=EVIL, why=EVIL, printing=[film], held=[film], doubtful=[film],
              paused=[EVIL])]
    )  # fmt: skip
    assert "<script" not in page and "\u202e" not in page
