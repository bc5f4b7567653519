from __future__ import annotations

import pytest

from filmhand.errors import Reason, Refused
from filmhand.profile.ticket.pages import MOST_PAGE, read_pages
from filmhand.profile.ticket.wishes import wishes_in


@pytest.mark.parametrize(
    ("given", "said", "pages"),
    [
        (3, "3", [3]),
        ("3", "3", [3]),
        ("2-5, 8", "2-5, 8", [2, 3, 4, 5, 8]),
        ("2 – 3,5-5", "2-3, 5", [2, 3, 5]),
        ([1, "4-6"], "1, 4-6", [1, 4, 5, 6]),
    ],
)
def test_pages_are_counted_from_one(given: object, said: str, pages: list[int]) -> None:
    choice = read_pages(given)
    assert str(choice) == said
    assert choice.of(8, name="a.pdf") == [page - 1 for page in pages]


@pytest.mark.parametrize(
    "given",
    [0, "0", "5-2", "3, 3", "8, 2-5", "2-", "all", "", [], "1;2", True, None, 2.5, MOST_PAGE + 1,
     [[1]], "1-3, 3-4"],
)  # fmt: skip
def test_what_is_no_choice_of_pages(given: object) -> None:
    with pytest.raises(ValueError, match=r"2-5, 8"):
        read_pages(given)


def test_the_last_page_that_may_be_asked_for() -> None:
    assert read_pages(MOST_PAGE).of(MOST_PAGE, name="a") == [MOST_PAGE - 1]


def test_a_page_that_is_not_there_is_told_with_what_is() -> None:
    with pytest.raises(Refused, match=r"Page 8 of “a.pdf” was asked for, and it has 7 pages"):
        read_pages("2-5, 8").of(7, name="a.pdf")
    with pytest.raises(Refused, match="it has 1 page\\.") as caught:
        read_pages(2).of(1, name="a.png")
    assert caught.value.reason is Reason.BAD_TICKET


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("a [page 3].pdf", ["pages 3"]),
        ("a [Pages 2-5, 8].pdf", ["pages 2-5, 8"]),
        ("a [7 in, pages 2 - 5, 8, 9, mirror].pdf", ["width 7 in", "pages 2-5, 8, 9", "mirror"]),
        ("a [pp. 2-5].pdf", ["pages 2-5"]),
    ],
)
def test_pages_in_the_name_of_the_art(name: str, words: list[str]) -> None:
    assert [wish.words for wish in wishes_in(name)] == words


@pytest.mark.parametrize(
    "name",
    ["a [pages 5-2].pdf", "a [pages 3, 3].pdf", "a [page 0].pdf", "a [pages].pdf", "a [2-5].pdf"],
)
def test_pages_in_a_name_that_cannot_be_are_refused(name: str) -> None:
    with pytest.raises(Refused) as caught:
        wishes_in(name)
    assert caught.value.reason is Reason.BAD_TICKET
