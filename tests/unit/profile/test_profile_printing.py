"""What a profile says of printer, approval and budget."""

from __future__ import annotations

import pytest

from filmhand.profile.printing import Budget, PrintWishes, read_budget, read_print

PRINTER = "ipp://film-printer.local/ipp/print"


def test_off_is_nothing() -> None:
    assert read_print("off") is None
    assert read_print(False) is None
    assert read_budget("off") is None


def test_a_printer_with_all_that_can_be_said() -> None:
    digits = "0F" * 32
    said = {
        "printer": "ipps://[fe80::1]:8631/printers/film",
        "media": "transparency",
        "tray": "by-pass-tray",
        "copies": 2,
        "certificate": ":".join(digits[i : i + 2] for i in range(0, 64, 2)),
        "scale": ["99.6 %", 100.2],
    }
    assert read_print(said) == PrintWishes(
        printer="ipps://[fe80::1]:8631/printers/film",
        media="transparency",
        tray="by-pass-tray",
        copies=2,
        certificate="0f" * 32,
        scale=(0.996, 1.002),
    )
    assert read_print({"printer": PRINTER, "media": "auto", "tray": "auto"}) == PrintWishes(
        printer=PRINTER
    )


@pytest.mark.parametrize(
    "said",
    [
        "on",
        PRINTER,
        {"printer": "http://film-printer.local/"},
        {"printer": "ipp://film-printer.local:70000/ipp"},
        {"printer": "ipp://somebody@film-printer.local/ipp"},
        {"printer": "ipp://a b/"},
        {"printer": PRINTER, "copies": 0},
        {"printer": PRINTER, "media": "two words"},
        {"printer": PRINTER, "certificate": "0f0f"},
        {"printer": PRINTER, "scale": ["99.6 %"]},
        {"printer": PRINTER, "scale": ["80 %", "100 %"]},
        {"printer": PRINTER, "scale": [True, 100]},
        {"printer": PRINTER, "speed": 3},
    ],
)
def test_what_no_printer_is_addressed_by(said: object) -> None:
    with pytest.raises(ValueError):
        read_print(said)


def test_budgets() -> None:
    assert read_budget({"day": 40, "person": 3}) == Budget(40, 3)
    assert read_budget({"person": 3}) == Budget(None, 3)
    for said in ({}, 40, {"day": 0}, {"day": 2.5}, {"week": 3}):
        with pytest.raises(ValueError):
            read_budget(said)
