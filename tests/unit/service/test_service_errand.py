from __future__ import annotations

import threading

import pytest

from filmhand.timing.background_call import BackgroundCall


def test_a_call_runs_beside_the_caller_and_is_answered_once() -> None:
    errand = BackgroundCall[int]("test")
    assert errand.start(lambda: 7)
    errand.wait(5)
    assert errand.result() == [7]
    assert errand.result() == []


def test_while_one_hangs_no_second_is_started() -> None:
    free, now = threading.Event(), [100.0]
    errand = BackgroundCall[bool]("test", lambda: now[0])
    assert errand.start(free.wait)
    now[0] += 40
    assert not errand.start(lambda: False)
    assert errand.running_for() == 40
    assert errand.result() == []
    free.set()
    errand.wait(5)
    assert errand.running_for() == 0
    assert errand.result() == [True]
    assert errand.start(lambda: False)


def test_an_error_comes_to_the_caller() -> None:
    def fail() -> None:
        raise ZeroDivisionError

    errand = BackgroundCall[None]("test")
    errand.start(fail)
    errand.wait(5)
    with pytest.raises(ZeroDivisionError):
        errand.result()
    assert errand.start(lambda: None)
