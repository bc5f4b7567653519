"""The parent's side, with children that only echo what they are asked or misbehave."""

from __future__ import annotations

import contextlib
import json
import os
import platform
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from filmhand.errors import EnvironmentTrouble, Reason, Refused
from filmhand.language import speaking
from filmhand.profile.read.load import read_profile
from filmhand.request import JobRequest, Step
from filmhand.worker import cores, parent
from filmhand.worker.engine import LocalEngine
from filmhand.worker.parent import Interrupted, WorkerDied, WorkerLimits, Workers, ask_worker
from filmhand.worker.process import surroundings
from filmhand.worker.wire import progress_to_json

PROFILE = "sheet: a4\ndpi: 300\nlpi: 25\ndot: round\nthreshold: 50\nmesh: none\nmargin: 5 mm\n"
_ASKED = Path("/sys/kernel/mm/transparent_hugepage/enabled")
HAS_LARGE_PAGES = (
    (_ASKED.is_file() and "[madvise]" in _ASKED.read_text())
    and platform.libc_ver()[0] == "glibc"
    and tuple(map(int, platform.libc_ver()[1].split("."))) >= (2, 35)
)
LIMITS = WorkerLimits(seconds=20.5, memory=2**30)
ECHO = """
import json, os, sys
question = json.load(sys.stdin)
told = {"question": question, "words": dict(os.environ), "folder": os.getcwd(), "pid": os.getpid()}
told["session"] = os.getsid(0)
sys.stderr.write("noise" * 1000)
print(json.dumps({"ok": told}))
"""


@pytest.fixture
def asked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> JobRequest:
    (tmp_path / "echo_stub.py").write_text(ECHO)
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    profile = read_profile(PROFILE, name="small", file="small.yaml")
    (tmp_path / "scratch").mkdir()
    return JobRequest(tmp_path / "a.png", "a.png", profile, tmp_path, tmp_path / "scratch")


def ask(request: JobRequest, code: str | None = None, **more: Any) -> Any:
    if code is not None:
        (request.out / "echo_stub.py").write_text(code)
    more = {"limits": LIMITS, "module": "echo_stub"} | more
    return ask_worker({"task": "films"}, lambda answer: answer, request=request, **more)


@pytest.mark.parametrize(("threads", "seconds"), [(0, 21), (1, 21), (2, 42)])
def test_what_a_child_is_told(asked: JobRequest, threads: int, seconds: int) -> None:
    """Processor time counts for each thread, and the clock of the parent ends a job first."""
    request = JobRequest(
        asked.art, asked.name, asked.profile, asked.out, asked.scratch, threads=threads
    )
    told = ask(request)
    assert told["question"] == {
        "task": "films",
        "parent": os.getpid(),
        "memory": 2**30,
        "threads": max(1, threads),
        "cpu_seconds": seconds,
        "language": "en",
        "folder": str(asked.scratch),
    }


@pytest.mark.skipif(not HAS_LARGE_PAGES, reason="large pages are not to be asked for here")
def test_the_heap_of_a_child_is_asked_for_in_large_pages() -> None:
    """proc_pid_smaps(5): hg is what madvise(2) notes for MADV_HUGEPAGE."""
    code = (
        "import ctypes, re\n"
        "for _ in range(1024): ctypes.CDLL(None).malloc(65536)\n"
        "told = open('/proc/self/smaps').read()\n"
        "print(re.findall(r'\\[heap\\].*?VmFlags:([^\\n]*)', told, re.S))"
    )
    ran = subprocess.run(
        [sys.executable, "-c", code], env=surroundings(), capture_output=True, check=True, text=True
    )
    assert " hg " in ran.stdout


def test_the_surroundings_of_a_child(asked: JobRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("AWS_SECRET", "x")
    monkeypatch.setenv("LC_ALL", "C")
    told = ask(asked)
    words = told["words"]
    assert "AWS_SECRET" not in words
    assert (words["LC_ALL"], words["OPENBLAS_NUM_THREADS"], words["OMP_NUM_THREADS"]) == (
        "C", "1", "1",
    )  # fmt: skip
    assert words["TMPDIR"] == told["folder"] == str(asked.scratch)
    here, *rest = words["PYTHONPATH"].split(os.pathsep)
    assert (Path(here) / "filmhand" / "worker").is_dir()
    assert rest == [str(asked.out)]
    assert told["session"] == told["pid"]  # so that all it starts can be ended with it


def test_a_gang_has_the_time_of_all_its_jobs(asked: JobRequest) -> None:
    code = ECHO.replace(
        'print(json.dumps({"ok": told}))',
        'json.dump([question["task"], question["cpu_seconds"], len(question["requests"]),'
        ' question.get("known")], open(question["requests"][0]["out"] + "/told", "w"))\n'
        'open("here", "w").close()\n'
        'sizes = [[1, 2]] * len(question["requests"])\n'
        'print(json.dumps({"ok": {"placed": {}, "refused": {}, "alone": {}, "left": [0, 1, 2],'
        ' "sizes": sizes, "chosen": []}}))',
    )
    (asked.out / "echo_stub.py").write_text(code)
    told = asked.out / "told"
    (asked.out / "other").mkdir()
    other = JobRequest(asked.art, "b.png", asked.profile, asked.out, asked.out / "other")
    made = parent.run_gang([asked, other, other], limits=LIMITS, module="echo_stub")
    assert (asked.scratch / "here").exists()  # the first one's folders are those of all
    assert made.left == [0, 1, 2]
    assert told.read_text() == '["gang", 62, 3, null]'
    (asked.scratch / "here").unlink()
    space = parent.run_sheet_space([asked, other], {1: (3, 4)}, limits=LIMITS, module="echo_stub")
    assert space.sizes == [(1, 2), (1, 2)]
    assert (asked.scratch / "here").exists()
    assert told.read_text() == '["space", 42, 2, [[1, [3, 4]]]]'


@pytest.mark.parametrize(
    ("answer", "kind", "words"),
    [
        ('{"environment": "The share is away."}', EnvironmentTrouble, "The share is away."),
        ('{"bug": "Traceback: odd"}', WorkerDied, "Traceback: odd"),
        ("[]", WorkerDied, "makes no sense"),
        ("nothing", WorkerDied, "makes no sense"),
        ('{"ok": {"films": 7}}', WorkerDied, "makes no sense"),
        ('{"refused": {"reason": "odd", "say": "", "do": ""}}', WorkerDied, "makes no sense"),
    ],
)
def test_answers_that_are_no_films(
    asked: JobRequest, answer: str, kind: type[Exception], words: str
) -> None:
    (asked.out / "echo_stub.py").write_text(f"print({answer!r})")
    with pytest.raises(kind, match=words) as caught:
        parent.run_in_worker(asked, limits=LIMITS, module="echo_stub")
    assert getattr(caught.value, "is_bug", True)


def test_films_are_those_of_the_output_folder(asked: JobRequest) -> None:
    (asked.out / "proof.jpg").touch()
    film = '{"suffix": "", "files": {"pdf": "a.png"}, "proof": "proof.jpg", "record": {}}'
    asked.art.touch()
    (asked.out / "echo_stub.py").write_text(f'print(\'{{"ok": {{"films": [{film}]}}}}\')')
    (made,) = parent.run_in_worker(asked, limits=LIMITS, module="echo_stub").films
    assert (list(made.files.values()), made.proof) == ([asked.art], asked.out / "proof.jpg")


def test_a_refusal_is_raised(asked: JobRequest) -> None:
    (asked.out / "echo_stub.py").write_text(
        """print('{"refused": {"reason": "blank", "say": "Bare.", "do": "Draw."}}')"""
    )
    with pytest.raises(Refused) as caught:
        parent.run_in_worker(asked, limits=LIMITS, module="echo_stub")
    assert (caught.value.reason, caught.value.say) == (Reason.BLANK, "Bare.")


@pytest.mark.parametrize(
    ("code", "how"),
    [
        ("import os; os._exit(3)", "it ended with code 3"),
        ("import os; os.kill(os.getpid(), 11)", "it ended by SIGSEGV"),
        ("import os; os.kill(os.getpid(), 40)", "it ended with code -40"),
        ("import sys; sys.exit('last words')", "it ended with code 1\nlast words"),
    ],
)
def test_deaths_point_to_the_art_and_not_to_the_program(
    asked: JobRequest, code: str, how: str
) -> None:
    with pytest.raises(WorkerDied) as caught:
        ask(asked, code)
    assert caught.value.how.startswith(how)
    assert not caught.value.is_bug


@pytest.mark.parametrize(
    "code",
    [
        "import time; print(flush=True); time.sleep(60)",
        "import os, time; os.close(1); time.sleep(60)",
        "import os, signal; os.kill(os.getpid(), signal.SIGXCPU)",  # setrlimit(2), RLIMIT_CPU
    ],
)
def test_a_job_whose_time_ran_out_is_refused(asked: JobRequest, code: str) -> None:
    """Told once: it would take as long the next time."""
    with pytest.raises(Refused) as caught:
        ask(asked, code, limits=WorkerLimits(1.5, 2**30))
    assert caught.value.reason is Reason.TOO_BIG
    assert "not finished in the 1.5 seconds" in caught.value.say


def test_the_end_of_what_a_child_said_is_kept(asked: JobRequest) -> None:
    code = "import sys; sys.stderr.write('a' * 200_000 + 'b' * 65_535 + '\\n'); sys.exit(1)"
    with pytest.raises(WorkerDied) as caught:
        ask(asked, code)
    assert caught.value.how == "it ended with code 1\n" + "b" * 65_535


def test_an_answer_comes_though_the_child_left_something_running(asked: JobRequest) -> None:
    code = (
        "import subprocess, sys; subprocess.Popen([sys.executable, '-c', "
        "'import time; time.sleep(60)']); print('{\"ok\": 7}', flush=True)"
    )
    assert ask(asked, code) == 7


def test_a_service_that_stops_interrupts_what_runs_and_what_comes(asked: JobRequest) -> None:
    workers = Workers()
    assert ask(asked, workers=workers)["question"]["task"] == "films"
    assert workers._running == set()
    workers.stop()
    with pytest.raises(Interrupted):
        ask(asked, "import time; time.sleep(60)", workers=workers)


def test_a_computer_that_can_start_nothing_is_no_arts_fault(
    asked: JobRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "executable", "/nowhere/python")
    with pytest.raises(EnvironmentTrouble, match="No worker could be started: No such file"):
        ask(asked)


def test_the_limits_are_the_profiles_and_the_engine_has_the_size_it_was_made_for(
    asked: JobRequest,
) -> None:
    limits = asked.profile.limits
    assert WorkerLimits.of(asked.profile) == WorkerLimits(limits.seconds, limits.memory)
    with contextlib.closing(LocalEngine(3)) as engine:
        assert engine.room() == 3


def test_cores_are_those_that_this_process_may_use(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "sched_getaffinity", {0: {3, 5, 9}}.__getitem__, raising=False)
    monkeypatch.setattr(os, "cpu_count", lambda: 16)
    assert cores.usable_cores() == 3
    monkeypatch.delattr(os, "sched_getaffinity")  # as on other systems
    assert cores.usable_cores() == 16
    monkeypatch.setattr(os, "cpu_count", lambda: None)
    assert cores.usable_cores() == 1


def test_a_child_that_prints_does_not_spoil_its_answer(asked: JobRequest) -> None:
    code = (
        "import os\n"
        "from filmhand.worker.child import answer_parent\n"
        "def make(question):\n"
        "    print('noise of a library', flush=True)\n"
        "    os.write(1, b'noise of its descriptor')\n"
        "    return {'task': question['task']}\n"
        "raise SystemExit(answer_parent(make))\n"
    )
    assert ask(asked, code) == {"task": "films"}
    code = code.replace("return {'task': question['task']}", "raise ZeroDivisionError")
    with pytest.raises(WorkerDied) as caught:
        ask(asked, code)
    assert caught.value.is_bug
    assert "ZeroDivisionError" in caught.value.how
    assert "noise of a library\nnoise of its descriptor" in caught.value.how  # said, not answered


def test_the_programs_own_child_loads_what_makes_films(asked: JobRequest) -> None:
    code = (
        "import sys\n"
        "from filmhand.worker import child\n"
        "def no_limits(question):\n"
        "    loaded.append('filmhand.pipeline.make' in sys.modules)\n"
        "loaded = []\n"
        "child.set_limits = no_limits\n"
        "child._make = lambda question, asked, pipe: {'loaded': loaded}\n"
        "raise SystemExit(child.answer_parent())\n"
    )
    assert ask(asked, code) == {"loaded": [True]}


def test_progress_goes_ahead_of_the_answer(asked: JobRequest) -> None:
    told: list[tuple[Step, float]] = []
    request = replace(asked, progress=lambda step, behind: told.append((step, behind)))
    lines = [progress_to_json(step, step.begins) for step in Step]
    code = "import json, time\n" + "".join(
        f"print({json.dumps(line)!r}, flush=True); time.sleep(0.01)\n" for line in lines
    )
    assert ask(request, code + "print('{\"ok\": 7}')\n") == 7
    assert told == [(step, step.begins) for step in Step]
    # All at once, and with the answer behind it.
    told.clear()
    block = "\n".join(map(json.dumps, lines)) + '\n{"ok": 8}'
    assert ask(request, f"print({block!r}, end='')\n") == 8
    assert len(told) == len(Step)


@pytest.mark.parametrize(
    "line",
    ['{"step": "odd", "behind": 0.5}', '{"step": "reading", "behind": 7}', "[]", "7", "x" * 500,
     '{"step": "reading"}', '{"step": "reading", "behind": null}', '{"step": 1, "behind": NaN}'],
)  # fmt: skip
def test_what_is_no_progress_is_no_answer_either(asked: JobRequest, line: str) -> None:
    told: list[float] = []
    request = replace(asked, progress=lambda step, behind: told.append(behind))
    with pytest.raises(WorkerDied, match="makes no sense"):
        ask(request, f"print({line!r})\nprint('{{\"ok\": 7}}')\n")
    assert told == []


def test_a_child_speaks_as_whoever_asks(asked: JobRequest) -> None:
    with speaking("es"):
        assert ask(asked)["question"]["language"] == "es"


def test_threads_of_a_job_are_no_more_than_its_memory_carries() -> None:
    assert [cores.threads_within(2**31, number) for number in (1, 2, 8, 64)] == [1, 2, 8, 8]
    assert cores.threads_within(2**27, 4) == 1
