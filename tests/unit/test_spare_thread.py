"""What a spare thread has done meanwhile is what whoever asks would have done."""

from __future__ import annotations

import threading

import pytest

from filmhand.speaking_pool import SpareThread


class Broken(Exception):
    """Raised by what is done."""


def broken() -> None:
    raise Broken


@pytest.mark.parametrize("threads", [1, 2])
def test_each_thing_is_done_once(threads) -> None:
    done = []
    with SpareThread(threads) as spare:
        answers = [spare.begin(lambda one=one: (done.append(one), one)[1]) for one in range(5)]
        assert [answer() for answer in reversed(answers)] == [4, 3, 2, 1, 0]
        assert [answer() for answer in answers] == [0, 1, 2, 3, 4]
    assert sorted(done) == [0, 1, 2, 3, 4]


def test_a_job_of_one_thread_starts_no_other() -> None:
    with SpareThread(1) as spare:
        assert spare.begin(threading.get_ident)() == threading.get_ident()
    with SpareThread(2) as spare:
        begun = threading.Event()
        answer = spare.begin(lambda: (begun.set(), threading.get_ident())[1])
        assert begun.wait(120)
        assert answer() != threading.get_ident()


def test_who_asks_for_what_is_not_begun_does_it_and_waits_for_nothing_before() -> None:
    go_on = threading.Event()
    with SpareThread(2) as spare:
        first = spare.begin(go_on.wait, 10)
        assert spare.begin(threading.get_ident)() == threading.get_ident()
        go_on.set()
        assert first()


@pytest.mark.parametrize("threads", [1, 2])
def test_an_error_is_raised_where_it_is_asked_for_and_nowhere_else(threads) -> None:
    with SpareThread(threads) as spare:
        answer = spare.begin(broken)
        with pytest.raises(Broken):
            answer()
    with SpareThread(threads) as spare:
        spare.begin(broken)


def test_what_was_not_begun_at_the_end_can_still_be_asked_for() -> None:
    go_on, done = threading.Event(), []
    with SpareThread(2) as spare:
        spare.begin(go_on.wait, 10)
        later = spare.begin(done.append, 1)
        threading.Timer(0.05, go_on.set).start()
    assert not done
    later()
    assert done == [1]
