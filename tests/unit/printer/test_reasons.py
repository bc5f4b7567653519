"""The reasons that printers give, in words."""

from __future__ import annotations

import pytest

from filmhand.printer.reasons import (
    SAY_NO_MORE,
    JobReason,
    PrinterReason,
    film_is_low,
    job_reasons,
    printer_reasons,
    stops_printing,
)

KEYWORDS = """
other media-needed media-jam moving-to-paused paused shutdown connecting-to-device timed-out
stopping stopped-partly toner-low toner-empty spool-area-full cover-open interlock-open
door-open input-tray-missing media-low media-empty output-tray-missing output-area-almost-full
output-area-full marker-supply-low marker-supply-empty marker-waste-almost-full
marker-waste-full fuser-over-temp fuser-under-temp opc-near-eol opc-life-over developer-low
developer-empty interpreter-resource-unavailable
"""


@pytest.mark.parametrize("row", PrinterReason)
@pytest.mark.parametrize("severity", ["", "-error", "-warning", "-report"])
def test_each_reason_has_words_however_severe(row, severity):
    assert row.keywords
    for keyword in row.keywords:
        assert printer_reasons([f"{keyword}{severity}"]) == [row.say()]
        stops = row.stops and severity in {"", "-error"}
        assert stops_printing([f"{keyword}{severity}"]) == stops


def test_each_reason_of_rfc_8011_has_words():
    """Section 5.4.12; without "none", that says nothing."""
    keywords = KEYWORDS.split()
    assert [one for one in keywords if "says" in printer_reasons([one])[0]] == []


@pytest.mark.parametrize(
    ("keyword", "low"),
    [
        ("media-low", True),
        ("media-low-warning", True),
        ("com.acme-tray-2-nearly-empty-report", True),
        ("paper-low", True),
        ("media-empty-error", False),
        ("toner-low", False),
        ("cover-open", False),
    ],
)
def test_film_that_runs_low(keyword, low):
    assert film_is_low([keyword, "none"]) is low


def test_the_gravest_first_and_each_once():
    told = printer_reasons(["toner-low-report", "none", "media-jam-error", "media-jam-warning"])
    assert told == ["film is jammed", "toner is low"]


def test_the_longest_keyword_counts():
    assert printer_reasons(["media-empty-tray-2-error"]) == ["a tray is empty"]
    assert printer_reasons(["marker-waste-almost-full"]) == ["the waste container is nearly full"]
    assert printer_reasons(["media-jammed"]) == ["the printer says “media-jammed”"]


def test_what_nobody_knows_is_told_as_it_came_but_safely():
    assert printer_reasons(["x\x1b[31m<b>-error"]) == ["the printer says “x__31m_b_”"]
    assert len(printer_reasons(["y" * 5000])[0]) < 120
    assert job_reasons(["none", "com.acme-odd"]) == ["the printer says “com.acme-odd”"]


@pytest.mark.parametrize("row", JobReason)
def test_reasons_of_jobs(row):
    assert row.keywords
    for keyword in row.keywords:
        assert job_reasons([keyword]) == [row.say()]
    assert job_reasons(SAY_NO_MORE) == []
