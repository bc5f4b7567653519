"""Sentences in the language in force: who sets it, how long, and in which threads and processes."""

from __future__ import annotations

import threading

import pytest

from filmhand import language, speaking_pool
from filmhand.language import speaking, spoken
from filmhand.speaking_pool import SpeakingPool


@pytest.mark.parametrize(
    ("written", "code"),
    [
        ("", "en"),
        ("es", "es"),
        ("ES", "es"),
        ("es_MX.UTF-8", "es"),
        ("POSIX", "en"),
        ("POSIX", "en"),
        ("?", "en"),
    ],
)
def test_the_environment_names_a_language_as_systems_do(
    monkeypatch: pytest.MonkeyPatch, written: str, code: str
) -> None:
    monkeypatch.setenv("FILMHAND_LANG", written)
    assert spoken() == code


def test_the_language_set_last_is_in_force_until_it_is_left(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("FILMHAND_LANG", "es")
    with speaking("en"):
        assert spoken() == "en"
        with speaking(None):
            assert spoken() == "en"
        with speaking("es"):
            assert spoken() == "es"
        assert spoken() == "en"
    assert spoken() == "es"


def test_threads_speak_as_whoever_hands_them_something_to_do() -> None:
    with SpeakingPool(1) as pool:
        with speaking("es"):
            one = pool.submit(spoken)
        two = pool.submit(spoken)
        with speaking("es"):
            several = list(pool.map(lambda _: spoken(), range(3)))
    assert (one.result(), two.result(), several) == ("es", "en", ["es"] * 3)


def test_a_process_with_one_core_works_in_the_thread_that_hands_over(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(speaking_pool, "_alone", False)
    speaking_pool.work_alone()

    def told(fails: bool) -> tuple[str, int]:
        if fails:
            raise ValueError
        return spoken(), threading.get_ident()

    with SpeakingPool(2) as pool, speaking("es"):
        asked = pool.submit(told, False), pool.submit(told, True)
        several = list(pool.map(told, [False] * 3))
    here = "es", threading.get_ident()
    assert [asked[0].result(), *several] == [here] * 4
    with pytest.raises(ValueError):  # as of any pool, when the answer is asked for
        asked[1].result()


def test_a_language_without_a_catalog_is_english() -> None:
    assert "xx" not in language.languages()
    with speaking("xx"):
        assert language.translated("waiting") == "waiting"


def test_lists_are_joined_as_in_a_sentence() -> None:
    lists = (["a"], ["a", "b"], ["a", "b", "c"])
    assert [language.or_list(words) for words in lists] == ["a", "a or b", "a, b or c"]
    assert [language.and_list(words) for words in lists] == ["a", "a and b", "a, b and c"]


def test_nothing_is_nothing_in_every_language() -> None:
    for code in language.languages():
        with speaking(code):
            assert language.translated("") == ""
