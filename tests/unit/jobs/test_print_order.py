"""The notes of a print order: what filmhand writes it reads again, and nothing else."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from filmhand.disk.beneath import Beneath
from filmhand.disk.forms import is_job_id, is_print_id
from filmhand.jobs.print_order import Order, OrderState, PrintDocument, new_print_id

ID = "20260301T100000000123-0a1b2c3d-00002"


@pytest.fixture
def order(tmp_path: Path) -> Order:
    folder = Beneath(tmp_path) / ID
    folder.mkdir()
    (folder.path / "film.pwg").write_bytes(b"bits")
    made = Order(
        folder, ID, "20260301T100000-0a1b2c3d", "small", ["class 4"], "poster", "Ana",
        "2026-03-01T10:00:00Z", 2, (21590, 27940), (635, 635, 635, 635), (300, 300),
        {"pwg": PrintDocument("film.pwg", "0" * 64, 4)},
    )  # fmt: skip
    made.save()
    return made


def test_what_is_written_is_read(order: Order) -> None:
    assert Order.load(order.folder) == order
    order.state, order.number, order.printer = OrderState.FOLLOWING, 7, "ipp://p/"
    order.why, order.cancel, order.tries = "no paper", True, 3
    order.save()
    assert asdict(Order.load(order.folder)) == asdict(order)
    assert (order.film, order.name) == ("class 4/poster", f"poster {ID} 3")


def test_the_printers_name_is_plain_and_short(order: Order) -> None:
    order.stem = "caf\u00e9 \u202e" + "x" * 300
    assert order.name.isascii() and len(order.name) == 255
    assert order.name.startswith("caf_ _") and order.name.endswith(f" {ID}")


def test_ids_sort_by_time_and_film() -> None:
    first = datetime(2026, 3, 1, 10, microsecond=5, tzinfo=UTC)
    later = datetime(2026, 3, 1, 10, microsecond=6, tzinfo=UTC)
    ids = [new_print_id(first, 1, "f" * 8), new_print_id(first, 12, "f" * 8),
           new_print_id(later, 1, "0" * 8)]  # fmt: skip
    assert ids == sorted(ids)
    assert all(map(is_print_id, ids)) and not any(map(is_job_id, ids))


WRONG: list[dict[str, Any]] = [
    {"id": ID.replace("2", "3")},
    {"schema": "filmhand-print-order/2"},
    {"state": "lost"},
    {"state": "following", "printer": "ipp://p/"},  # no number
    {"state": "creating"},  # no printer
    {"state": "ending"},  # no end
    {"ended": {"state": "printed", "at": "2026-03-01T10:00:00Z", "why": ""}},  # not ending
    {"documents": {}},
    {"documents": {"pwg": {"name": "../film.pwg", "sha256": "0" * 64, "bytes": 4}}},
    {"documents": {"pwg": {"name": "order.json", "sha256": "0" * 64, "bytes": 4}}},
    {"documents": {"pwg": {"name": "gone.pwg", "sha256": "0" * 64, "bytes": 4}}},
    {"sheets": 0},
    {"sheets": True},
    {"sub": [".."]},
    {"stem": "a/b"},
    {"number": -1},
    {"more": 1},
]


@pytest.mark.parametrize("more", WRONG, ids=lambda more: repr(more)[:50])
def test_notes_that_no_order_has(order: Order, more: dict[str, Any]) -> None:
    path = order.folder.path / "order.json"
    path.write_text(json.dumps(json.loads(path.read_text()) | more))
    with pytest.raises(ValueError):
        Order.load(order.folder)


def test_an_order_that_is_over_may_have_lost_its_documents(order: Order) -> None:
    order.state = OrderState.ENDING
    order.ended = {"state": "printed", "at": "2026-03-01T10:00:00Z", "why": ""}
    order.save()
    (order.folder / "film.pwg").unlink()
    assert Order.load(order.folder) == order


def test_a_link_is_no_order(order: Order, tmp_path: Path) -> None:
    path = order.folder.path / "order.json"
    path.rename(tmp_path / "elsewhere.json")
    path.symlink_to(tmp_path / "elsewhere.json")
    with pytest.raises(ValueError):
        Order.load(order.folder)
    path.unlink()
    with pytest.raises(ValueError, match="it has no notes"):
        Order.load(order.folder)
