from __future__ import annotations

from typing import Any

import pytest

from filmhand.jobs.film_sets import place_in_set, stem_of_set
from filmhand.jobs.ledger import film_about

PLACE: dict[str, Any] = {
    "id": "0123456789abcdef", "k": 2, "of": 3, "ink": "dark red", "color": [30.5, 50, -35.0],
}  # fmt: skip


def test_a_place_is_read_as_records_have_it() -> None:
    assert place_in_set({"set": PLACE}) == PLACE
    assert place_in_set({"set": PLACE | {"more": "of a later version"}}) == PLACE


@pytest.mark.parametrize("wrong", [
    None, [], {}, {"k": 4}, {"k": 0}, {"k": True}, {"of": 10**9}, {"id": "../a"}, {"id": ""},
    {"color": [1, 2]}, {"color": [1, 2, "3"]}, {"color": [1, 2, 1e200]}, {"ink": 5},
    {"ink": "x" * 300}, {"color": [1, 2, float("nan")]},
])  # fmt: skip
def test_what_filmhand_does_not_write_is_no_place(wrong: Any) -> None:
    told = PLACE | wrong if isinstance(wrong, dict) and wrong else wrong
    assert place_in_set({"set": told}) is None
    assert "set" not in film_about((), "a-2-dark-red", [], {"set": told})


@pytest.mark.parametrize(
    ("stem", "whole"),
    [
        ("poster-2-dark-red", "poster"),
        ("poster-2-2-dark-red", "poster-2"),
        ("poster-p01-2-dark-red", "poster-p01"),
        ("-2-dark-red", None),
        ("poster-1-dark-red", None),
        ("poster", None),
    ],
)
def test_the_stem_of_a_set_is_what_its_films_have_in_common(stem: str, whole: str | None) -> None:
    assert stem_of_set(stem, PLACE) == whole
    about = film_about(("class",), stem, [], {"set": PLACE})
    assert about["set"].get("stem") == whole


def test_an_ink_called_like_a_place_does_not_mislead() -> None:
    assert stem_of_set("poster-2-blue-2-b", {"k": 2, "ink": "blue 2 b"}) == "poster"
