"""The reasons that printers give, in words."""

from __future__ import annotations

import pytest

from filmhand.printer.reasons import (
    JobReason,
    PrinterReason,
    job_reasons,
    printer_reasons,
    stops_printing,
)


@pytest.mark.parametrize("row", PrinterReason)
@pytest.mark.parametrize("severity", ["", "-error", "-warning", "-report"])
def test_each_reason_has_words_however_severe(row, severity):
    assert printer_reasons([f"{row}{severity}"]) == [row.say]
    assert stops_printing([f"{row}{severity}"]) == (row.stops and severity in {"", "-error"})


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
    assert job_reasons([row.value]) == ([row.say] if row.say else [])
