"""Our tables do what the standard library's enumerations do, which are made beside them."""

from __future__ import annotations

import copy
import json
import pickle
import sys
import types
from enum import Enum, StrEnum
from typing import Any

import pytest

from filmhand import tables
from filmhand.errors import Reason

TEXTS = {"TITLE": "a {name}", "OTHER": "b", "AGAIN": "b", "LAST": ""}
TUPLES = {"ONE": ("a", "b"), "TWO": ("a", "c"), "SAME": ("a", "b")}
MADE = [(StrEnum, tables.TableOfTexts, TEXTS), (Enum, tables.Table, TUPLES)]


class Body(dict[str, Any]):
    """The body of a class, put into a namespace as the statement would."""

    def into(self, space: Any) -> None:
        for name, value in self.items():
            space[name] = value


def made(base: Any, rows: dict[str, Any]) -> Any:
    """A table of these rows, with a method."""

    def shout(self: Any) -> str:
        return f"{self.name} {self.value}!"

    body = {"__module__": __name__, "shout": shout, **rows}
    table = types.new_class("Told", (base,), {}, lambda space: Body(body).into(space))
    table.__qualname__ = "Told"
    return table


@pytest.mark.parametrize(("theirs", "ours", "rows"), MADE)
def test_rows_are_as_members_of_an_enumeration(theirs, ours, rows, monkeypatch):
    def told(table: Any) -> list[Any]:
        monkeypatch.setattr(sys.modules[__name__], "Told", table, raising=False)
        first = next(iter(table))
        assert pickle.loads(pickle.dumps(first)) is first
        assert copy.deepcopy([first])[0] is copy.copy(first) is first
        assert table(first.value) is table[first.name] is first
        assert {first: 1}[first] == 1
        assert first in table
        return [
            [(repr(row), str(row) if isinstance(row, str) else "", row.shout()) for row in table],
            [(name, row.name) for name, row in table.__members__.items()],
            len(table),
            bool(table),
            first == table(first.value),
            json.dumps(list(table)) if issubclass(table, str) else "",
            f"{first}".format(name=1) if issubclass(table, str) else "",
        ]

    assert told(made(ours, rows)) == told(made(theirs, rows))


@pytest.mark.parametrize(("theirs", "ours", "rows"), MADE)
def test_no_row_can_be_changed_and_no_other_value_is_one(theirs, ours, rows):
    for base in (theirs, ours):
        table = made(base, rows)
        first, *_ = table.__members__
        with pytest.raises(AttributeError):
            setattr(table, first, "else")
        with pytest.raises(AttributeError):
            delattr(table, first)
        with pytest.raises(ValueError, match="nothing of it"):
            table("nothing of it")
        with pytest.raises(KeyError):
            table["NOTHING"]


def test_a_table_with_a_new_of_its_own_keeps_further_values_of_its_rows():
    assert Reason("blank") is Reason.BLANK == "blank" == Reason.BLANK.value
    assert Reason.BLANK.when.startswith("nothing would print")
