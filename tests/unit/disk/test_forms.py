"""Strict forms: what fits comes back as it was, all else is a ValueError and no other error."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmhand.disk import forms
from filmhand.disk.beneath import Beneath
from filmhand.jobs import job_form

ID = "20260102T030405-0a1b2c3d"
FITTING: list[tuple[forms.Form, Any]] = [
    (forms.text(), "any \u00e9\n"),
    (forms.text("a+", longest=3), "aaa"),
    (forms.one_word_of(["a", "b"]), "b"),
    (forms.single_name, os.fsdecode(b"\xff") + " .png"),
    (forms.single_name, "x" * 255),
    (forms.raw_name, "a/" + os.fsdecode(b"\xff")),
    (forms.text(), "x" * 10_000),
    (forms.raw_name, "x" * 10_000),
    (forms.several(forms.text()), [""] * 100_000),
    (forms.table(forms.text(), forms.text()), {str(number): "" for number in range(100_000)}),
    (forms.truth, False),
    (forms.whole_number(0, 3), 3),
    (forms.whole_number(0, 3), 0),
    (forms.any_number, -2.5),
    (forms.optional(forms.truth), None),
    (forms.either(forms.truth, forms.text()), "x"),
    (forms.several(forms.truth, least=1, most=2), [True, False]),
    (forms.row(forms.truth, forms.text()), [True, "x"]),
    (forms.table(forms.text(), forms.truth, most=1), {"a": True}),
    (forms.record({"a": forms.truth}, {"b": forms.truth}), {"b": True, "a": False}),
    (forms.any_object, {"a": [1, {"b": None}]}),
    (forms.JOB_ID, ID),
    (forms.SHA256, "0a" * 32),
    (forms.TIME, "2026-01-02T03:04:05Z"),
]
OTHER: list[tuple[forms.Form, Any]] = [
    (forms.text(), 3), (forms.text(), None), (forms.text(), "\ud800"), (forms.text(), "x" * 10_001),
    (forms.text("a+", longest=3), "aaaa"), (forms.text("a"), "a\n"), (forms.text("a"), "ba"),
    (forms.one_word_of(["a"]), "A"), (forms.one_word_of(["a"]), ["a"]), (forms.single_name, ".."),
    (forms.single_name, "a/b"), (forms.single_name, "x" * 256), (forms.single_name, "\u00e9" * 128),
    (forms.raw_name, "\ud800"), (forms.raw_name, b"a"), (forms.truth, 1), (forms.truth, None),
    (forms.whole_number(0, 3), 4), (forms.whole_number(0, 3), -1), (forms.whole_number(0, 3), True),
    (forms.whole_number(0, 3), 2.0), (forms.any_number, 10**400), (forms.any_number, float("nan")),
    (forms.any_number, float("inf")), (forms.any_number, True), (forms.any_number, "1"),
    (forms.optional(forms.truth), 0), (forms.either(forms.truth, forms.text()), 0),
    (forms.several(forms.truth, least=1), []), (forms.several(forms.truth, most=1), [True] * 2),
    (forms.several(forms.truth), (True,)), (forms.several(forms.truth), {"a": True}),
    (forms.row(forms.truth), []), (forms.row(forms.truth), [True, True]), (forms.row(), {}),
    (forms.table(forms.text(), forms.truth, most=1), {"a": True, "b": True}),
    (forms.table(forms.text("a"), forms.truth), {"b": True}), (forms.table(forms.text(), len), []),
    (forms.record({"a": forms.truth}), {}), (forms.record({}), {"a": 1}), (forms.record({}), []),
    (forms.any_object, []), (forms.any_object, {"a": 10**400}),
    (forms.raw_name, "x" * 10_001), (forms.raw_name, "\u00e9" * 5001),
    (forms.several(forms.text()), [""] * 100_001),
    (forms.table(forms.text(), forms.text()), {str(number): "" for number in range(100_001)}),
    (forms.JOB_ID, ID.upper()), (forms.JOB_ID, ID + "\n"), (forms.SHA256, "0A" * 32),
    (forms.TIME, "2026-01-02"),
]  # fmt: skip


def as_told(one: Any) -> str:
    return one.__qualname__ if callable(one) else repr(one)[:30]


@pytest.mark.parametrize(("form", "value"), FITTING, ids=as_told)
def test_what_fits_comes_back(form: forms.Form, value: Any) -> None:
    assert form(value) == value


@pytest.mark.parametrize(("form", "value"), OTHER, ids=as_told)
def test_what_does_not_fit_is_a_value_error(form: forms.Form, value: Any) -> None:
    with pytest.raises(ValueError):
        form(value)


def test_an_open_record_leaves_out_what_it_does_not_know() -> None:
    form = forms.record({"a": forms.truth}, closed=False)
    assert form({"a": True, "b": object()}) == {"a": True}
    assert list(forms.record({"a": forms.truth, "b": forms.truth})({"b": True, "a": True})) == [
        "b",
        "a",
    ]


def test_nesting_ends() -> None:
    value: Any = 1
    for _ in range(29):
        value = [value]
    assert forms.anything(value) == value
    with pytest.raises(ValueError, match="nested too deep"):
        forms.anything([[value]])


@pytest.mark.parametrize(
    "data",
    [b"", b"{", b"\xff", b"[" * 100_000, b"1" * 10_000, b"NaN", b"[Infinity]", b'{"a": -Infinity}'],
)
def test_what_is_no_json_of_ours_is_a_value_error(tmp_path: Path, data: bytes) -> None:
    path = Beneath(tmp_path) / "a.json"
    path.path.write_bytes(data)
    with pytest.raises(ValueError):
        forms.read_json(path, 1 << 20)


def test_a_file_that_is_too_long_is_not_read(tmp_path: Path) -> None:
    path = Beneath(tmp_path) / "a.json"
    path.path.write_text('"12345"')
    assert forms.read_json(path, 7) == "12345"
    with pytest.raises(ValueError, match="more than 6 bytes"):
        forms.read_json(path, 6)


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
    lambda inside: st.lists(inside) | st.dictionaries(st.text(), inside),
)
NOTES = {
    "schema": job_form.JOB_SCHEMA, "id": ID, "profile": "small", "snapshot": {}, "sub": [],
    "art": "a.png", "state": "claimed",
}  # fmt: skip


def test_the_least_that_notes_must_say() -> None:
    folder = Beneath(Path("/"), (ID,))
    assert job_form.fitting(dict(NOTES), folder) == NOTES
    for key in NOTES:
        with pytest.raises(ValueError, match=f"it lacks {key}"):
            job_form.fitting({k: v for k, v in NOTES.items() if k != key}, folder)
    with pytest.raises(ValueError, match="not the folder's name"):
        job_form.fitting(dict(NOTES), Beneath(Path("/"), (ID[:-1] + "0",)))


@given(key=st.sampled_from([*NOTES, "ticket", "seen", "films", "items", "kept", "company", "at"]),
       value=JSON)  # fmt: skip
def test_any_value_in_any_place_fits_or_is_a_value_error(key: str, value: Any) -> None:
    folder = Beneath(Path("/"), (ID,))
    try:
        told = job_form.fitting({**NOTES, key: value}, folder)
    except ValueError:
        return
    assert told[key] == value
    json.dumps(told)
