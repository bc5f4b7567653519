"""The child's side: the limits that it sets, and the kind of its answer."""

from __future__ import annotations

import ctypes
import errno
import io
import resource
import signal
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from filmhand.errors import EnvironmentTrouble, Reason, Refused
from filmhand.worker import child

QUESTION = {"memory": 2**30, "cpu_seconds": 31, "parent": 7, "threads": 1}


@pytest.fixture
def system(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> SimpleNamespace:
    """A system that only notes what is asked of it; its hard limits are in `most`."""
    seen = SimpleNamespace(limits={}, control=[], ends=[], most={}, parent=7, ignored=[])

    def getrlimit(limit: int) -> tuple[int, int]:
        most = seen.most.get(limit, resource.RLIM_INFINITY)
        return most, most

    monkeypatch.setattr(resource, "getrlimit", getrlimit)
    monkeypatch.setattr(resource, "setrlimit", seen.limits.__setitem__)
    library = SimpleNamespace(prctl=lambda *given: seen.control.append(given))
    monkeypatch.setattr(child.ctypes, "CDLL", lambda *_, **__: library)
    monkeypatch.setattr(child.os, "getppid", lambda: seen.parent)
    monkeypatch.setattr(child.os, "_exit", seen.ends.append)
    monkeypatch.setattr(signal, "signal", lambda *given: seen.ignored.append(given))
    seen.score = tmp_path / "score"
    seen.score.write_text("0\n")
    monkeypatch.setattr(child, "_OUT_OF_MEMORY", seen.score)
    monkeypatch.setattr(child, "work_alone", lambda: seen.control.append("alone"))
    return seen


def test_the_limits_of_a_job(system: SimpleNamespace) -> None:
    """Numbers of prctl: 38 is PR_SET_NO_NEW_PRIVS, 1 is PR_SET_PDEATHSIG (linux/prctl.h)."""
    child.set_limits(QUESTION)
    assert system.limits == {
        resource.RLIMIT_AS: (2**30, 2**30),
        resource.RLIMIT_CPU: (31, 36),  # SIGXCPU first: SIGKILL would look as if from outside
        resource.RLIMIT_FSIZE: (2**32, 2**32),
        resource.RLIMIT_NOFILE: (64, 64),
        resource.RLIMIT_CORE: (0, 0),
    }
    assert system.control == ["alone", (38, 1, 0, 0, 0), (1, signal.SIGKILL, 0, 0, 0)]
    assert system.score.read_text() == "500"
    assert system.ignored == [(signal.SIGXFSZ, signal.SIG_IGN)]
    assert system.ends == []


FREED = """
import ctypes, json, os, sys
from pathlib import Path
from filmhand.worker import child

def resident():
    return int(Path("/proc/self/statm").read_text().split()[1]) * 4096

question = {"memory": 2**33, "cpu_seconds": 60, "parent": os.getppid(), "threads": 1}
if sys.argv[1] == "yes":
    child.set_limits(question)
calls = ctypes.CDLL(None)
calls.malloc.restype = ctypes.c_void_p
calls.free.argtypes = [ctypes.c_void_p]

def block(size):
    place = calls.malloc(size)
    ctypes.memset(place, 1, size)
    return place

calls.free(block(30 * 2**20))  # from now on the library keeps blocks up to this size
before = resident()
for place in [block(20 * 2**20) for _ in range(2)]:
    calls.free(place)
print(resident() - before)
"""


@pytest.mark.skipif(not hasattr(ctypes.CDLL(None), "mallopt"), reason="not glibc")
@pytest.mark.parametrize(("limits", "kept"), [("yes", False), ("no", True)])
def test_what_a_job_frees_is_not_kept(limits: str, kept: bool) -> None:
    told = subprocess.run(
        [sys.executable, "-c", FREED, limits], check=True, capture_output=True, text=True
    ).stdout
    assert (int(told) > 10 * 2**20) == kept


def test_the_stacks_of_threads_are_none_of_a_jobs_memory(system: SimpleNamespace) -> None:
    """pthread_create(3): 8 MiB each, of which hardly anything is used."""
    child.set_limits(QUESTION | {"threads": 4})
    assert system.limits[resource.RLIMIT_AS] == (2**30 + 24 * 2**20,) * 2
    assert "alone" not in system.control


def test_a_limit_that_is_lower_already_stays(system: SimpleNamespace) -> None:
    system.most = {resource.RLIMIT_AS: 2**28, resource.RLIMIT_NOFILE: 1024}
    child.set_limits(QUESTION)
    assert system.limits[resource.RLIMIT_AS] == (2**28, 2**28)
    assert system.limits[resource.RLIMIT_NOFILE] == (64, 64)


@pytest.mark.parametrize(("most", "limits"), [(20, (15, 20)), (33, (28, 33)), (3, (1, 3))])
def test_a_lower_limit_of_time_still_tells_itself_by_its_own_signal(
    system: SimpleNamespace, most: int, limits: tuple[int, int]
) -> None:
    """Setrlimit(2): SIGXCPU at the soft limit, SIGKILL at the hard one."""
    system.most = {resource.RLIMIT_CPU: most}
    child.set_limits(QUESTION)
    assert system.limits[resource.RLIMIT_CPU] == limits


@pytest.mark.parametrize(("service", "worker"), [(-200, "300"), (100, "600"), (700, "1000")])
def test_for_want_of_memory_it_ends_before_the_service(
    system: SimpleNamespace, service: int, worker: str
) -> None:
    """proc_pid_oom_score_adj(5): a child begins with its parent's value; 1000 is the most."""
    system.score.write_text(f"{service}\n")
    child.set_limits(QUESTION)
    assert system.score.read_text() == worker


def test_a_child_whose_parent_died_meanwhile_ends(system: SimpleNamespace) -> None:
    system.parent = 1
    child.set_limits(QUESTION)
    assert system.ends == [1]


@pytest.mark.parametrize(
    ("error", "kind", "words"),
    [
        (Refused(Reason.BLANK, "say", "do"), "refused", "say"),
        (MemoryError(), "refused", "The art needs more memory than the 1 GiB"),
        (EnvironmentTrouble("The share is away."), "environment", "The share is away."),
        (OSError(errno.ENOSPC, "full"), "environment", "local disk"),
        (OSError(errno.EDQUOT, "full"), "environment", "local disk"),
        (OSError(errno.EFBIG, "too large"), "environment", "local disk"),
        (OSError(errno.EIO, "broken"), "environment", "The local disk failed: "),
        (OSError(errno.EROFS, "read-only"), "environment", "The local disk failed: "),
        (OSError(errno.ENOMEM, "memory"), "environment", "The local disk failed: "),
        (OSError(errno.ENOENT, "gone"), "bug", "FileNotFoundError"),
        (ZeroDivisionError("a bug"), "bug", "ZeroDivisionError: a bug"),
        (ValueError("odd"), "bug", "ValueError: odd"),
    ],
)
def test_what_an_error_is_to_the_parent(error: Exception, kind: str, words: str) -> None:
    def fail(question: Any) -> Any:
        raise error

    answer = child.answer_of(fail, QUESTION)
    assert list(answer) == [kind]
    assert words in (answer[kind]["say"] if kind == "refused" else answer[kind])


def test_a_file_that_meets_the_limit_of_jobs_is_the_arts(monkeypatch: pytest.MonkeyPatch) -> None:
    """A lower limit is the computer's."""

    def fail(question: Any) -> Any:
        raise OSError(errno.EFBIG, "too large")

    monkeypatch.setattr(resource, "getrlimit", {resource.RLIMIT_FSIZE: (2**32, 2**32)}.get)
    answer = child.answer_of(fail, QUESTION)
    assert answer["refused"]["say"].startswith("The art takes a file of more than 4 GiB")
    monkeypatch.setattr(resource, "getrlimit", {resource.RLIMIT_FSIZE: (1000, 2**32)}.get)
    assert list(child.answer_of(fail, QUESTION)) == ["environment"]


def test_what_was_made_is_answered_and_an_unknown_task_is_a_bug() -> None:
    assert child.answer_of(lambda question: {"films": []}, QUESTION) == {"ok": {"films": []}}
    asked = {"task": "dishes", "requests": []}
    answer = child.answer_of(lambda question: child._make(question, [], io.BytesIO()), asked)
    assert "no task 'dishes'" in answer["bug"]
