from __future__ import annotations

import threading

import pytest

from filmhand.timing.background_call import BackgroundCall


def test_a_call_runs_beside_the_caller_and_is_answered_once() -> None:
    call = BackgroundCall[int]("test")
    assert call.start(lambda: 7)
    call.wait(120)
    assert call.result() == [7]
    assert call.result() == []


def test_while_one_hangs_no_second_is_started() -> None:
    free, now = threading.Event(), [100.0]
    call = BackgroundCall[bool]("test", lambda: now[0])
    assert call.start(free.wait)
    now[0] += 40
    assert not call.start(lambda: False)
    assert call.running_for() == 40
    assert call.result() == []
    free.set()
    call.wait(120)
    assert call.running_for() == 0
    assert call.result() == [True]
    assert call.start(lambda: False)


def test_an_error_comes_to_the_caller() -> None:
    def fail() -> None:
        raise ZeroDivisionError

    call = BackgroundCall[None]("test")
    call.start(fail)
    call.wait(120)
    with pytest.raises(ZeroDivisionError):
        call.result()
    assert call.start(lambda: None)


def test_a_call_that_hangs_does_not_keep_the_program_from_ending() -> None:
    free = threading.Event()
    call = BackgroundCall[bool]("hangs on a share")
    call.start(free.wait)
    (thread,) = [one for one in threading.enumerate() if one.name == "hangs on a share"]
    assert thread.daemon
    free.set()
    call.wait(120)


def test_the_end_of_one_call_is_not_that_of_the_next() -> None:
    free, now = threading.Event(), [0.0]
    call = BackgroundCall[bool]("test", lambda: now[0])
    assert (call.running_for(), call.result()) == (0, [])
    call.wait(0)  # nothing to wait for
    call.start(lambda: True)
    call.wait(120)
    assert call.result() == [True]
    assert call.start(free.wait)
    now[0] = 3
    call.wait(0.01)
    assert (call.running_for(), call.result()) == (3, [])
    free.set()
    call.wait(120)
    assert call.result() == [True]
