"""Disks that are full or may only be read, at each step of a job and inside the encoders."""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import time
from collections.abc import Collection, Sequence
from pathlib import Path
from typing import Any

import job_harness
import numpy as np
import pytest
from job_harness import assert_invariants, assert_invariants_in_hand, make_queue
from PIL import Image
from sharing import SmallDisk, small_disk
from test_service_station import PROFILE

from filmhand.disk import atomic
from filmhand.disk.beneath import Beneath
from filmhand.disk.folders import Folders
from filmhand.errors import EnvironmentTrouble
from filmhand.film.formats import Format
from filmhand.jobs import claim, gang, holding, publish, put_away, recover, render_job
from filmhand.jobs.failpoints import FAILPOINTS, FAILPOINTS_GANG
from filmhand.jobs.ledger import Entry, of_refusal
from filmhand.jobs.sheets import counted_since
from filmhand.profile.printing import Budget
from filmhand.profile.read.load import read_profile
from filmhand.profile.ticket.gang import GangWishes
from filmhand.request import JobRequest
from filmhand.worker.parent import WorkerLimits, run_in_worker
from filmhand.worker.wire import request_to_json

__all__ = ["small_disk"]

CONTENTS = [b"art " + b"x" * 20_000, b"refuse " + b"y" * 20_000, b"pages 3"]


class Case:
    """A queue with a fault that comes at one step and goes again."""

    def __init__(
        self,
        root: Path,
        state: Path,
        monkeypatch: pytest.MonkeyPatch,
        contents: Sequence[bytes] = CONTENTS,
        together: GangWishes | None = None,
        **more: Any,
    ) -> None:
        self.root, self.ahead, self.contents = root, 0.0, list(contents)
        self.said: list[str] = []
        self.queue = make_queue(
            root,
            state,
            clock=lambda: time.monotonic() + self.ahead,
            say=lambda event, **facts: self.said.append(event),
            gang=together,
            **more,
        )
        self.monkeypatch = monkeypatch
        (root / "drop").mkdir(parents=True)
        for number, data in enumerate(contents):
            (root / "drop" / f"{number}.png").write_bytes(data)

    def at(self, step: str, fault: Any) -> None:
        """Call `fault` when a job has come as far as `step`."""

        def passing(name: str) -> None:
            if name == step:
                fault()

        for module in (claim, render_job, publish, put_away, recover, gang, holding):
            self.monkeypatch.setattr(module, "failpoint", passing)

    def go_on(self, rounds: int) -> None:
        for _ in range(rounds):
            self.queue.look()
            while (task := self.queue.take()) is not None:
                self.queue.do(task)
            self.ahead += 700
            time.sleep(job_harness.SETTLE * 1.5)

    def finish(self, besides: Collection[str] = frozenset()) -> None:
        until = time.monotonic() + 30
        while not self.queue.idle():
            assert time.monotonic() < until, self.queue.status()
            self.go_on(1)
        assert_invariants(self.root, self.contents, besides)
        assert not {"worker failed", "filmhand itself failed"} & set(self.said)


def fill_at(step: str, case: Case, disk: SmallDisk, contents: list[bytes]) -> None:
    """Fill the disk at a step, look that nothing is lost meanwhile, and free it."""
    filled = []

    def fill() -> None:
        filled.append(step)
        disk.fill()

    case.at(step, fill)
    case.go_on(5)
    assert filled
    assert_invariants_in_hand(case.root, contents)
    case.at(step, lambda: None)
    disk.free()


@pytest.mark.parametrize("step", [step for step in FAILPOINTS if step != "companions put away"])
@pytest.mark.parametrize("which", ["share", "state"])
def test_full_from_a_step_on_pauses_and_heals(
    small_disk: SmallDisk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str, which: str
) -> None:
    places = {"share": tmp_path / "share", "state": tmp_path / "state"}
    places[which] = small_disk.folder / which
    case = Case(places["share"] / "small", places["state"], monkeypatch)
    fill_at(step, case, small_disk, CONTENTS)
    case.finish()


@pytest.mark.parametrize("step", [step for step in FAILPOINTS_GANG if step != "gang parts"])
@pytest.mark.parametrize("which", ["share", "state"])
def test_full_from_a_step_of_a_gang_on_pauses_and_heals(
    small_disk: SmallDisk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str, which: str
) -> None:
    places = {"share": tmp_path / "share", "state": tmp_path / "state"}
    places[which] = small_disk.folder / which
    # Three find room on the sheet, two take the next.
    contents = [*CONTENTS, *(b"art %d " % n + b"z" * 20_000 for n in range(4))]
    case = Case(places["share"] / "small", places["state"], monkeypatch, contents, GangWishes(0.1))
    fill_at(step, case, small_disk, contents)
    case.finish()
    assert len(list((case.root / "positives").glob("*-more.pdf"))) >= 1


@pytest.mark.parametrize("step", ["letting go noted", "sheets counted", "let go"])
def test_full_from_a_step_of_counting_sheets_on_pauses_and_heals(
    small_disk: SmallDisk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    case = Case(
        small_disk.folder / "small", tmp_path / "state", monkeypatch,
        wishes={"budget": True}, budget=Budget(day=100), holds=True,
    )  # fmt: skip
    fill_at(step, case, small_disk, CONTENTS)
    case.finish(besides={"sheets"})
    assert sorted(one.sheets for _, one in counted_since(Folders(case.root))) == [1, 2]


@pytest.mark.parametrize(
    "step", ["films made", "names recorded", "held note written", "proof held"]
)
def test_full_from_a_step_of_holding_on_pauses_and_heals(
    small_disk: SmallDisk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    root = small_disk.folder / "small"
    case = Case(root, tmp_path / "state", monkeypatch, wishes={"approve": True}, holds=True)
    fill_at(step, case, small_disk, CONTENTS)
    case.go_on(8)
    assert case.queue.status()["held_count"] == 2
    proofs = sorted((root / "held").glob("*.jpg"))
    assert len(proofs) == 3
    for proof in proofs:
        if not proof.name.endswith("-p02.jpg"):
            proof.rename(root / "release" / proof.name)
    case.go_on(2)
    case.finish(besides={"sheets"})


def test_a_share_that_may_only_be_read_pauses_and_goes_on(
    small_disk: SmallDisk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    case = Case(small_disk.folder / "small", tmp_path / "state", monkeypatch)
    case.queue.look()
    time.sleep(2 * job_harness.SETTLE)
    small_disk.mount("remount,ro")
    case.go_on(4)
    assert "may only be read" in case.queue.trouble.pause.why
    assert case.said.count("paused") == 1
    assert {path.read_bytes() for path in (case.root / "drop").iterdir()} == set(CONTENTS)
    small_disk.mount("remount,rw")
    case.finish()


def told(root: Path) -> list[Entry]:
    """What the lines of the logs tell, as far as they are whole."""
    logs = Folders(root).refusal_logs()
    lines = [line for log in logs for line in log.path.read_bytes().splitlines()]
    return [entry for line in lines if (entry := of_refusal("small", line)) is not None]


def test_a_line_of_the_log_that_is_cut_off_is_written_again(
    small_disk: SmallDisk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A disk in memory gives room by pages: the line begins in the last one, and ends there."""
    case = Case(small_disk.folder / "small", tmp_path / "state", monkeypatch)
    log = case.root / "rejected" / "rejections.jsonl"
    log.parent.mkdir()
    first = b'{"job": "before", "reason": "blank", "say": "'
    log.write_bytes(first + b"x" * (resource.getpagesize() - 100 - len(first) - 3) + b'"}\n')
    append = atomic.append_line

    def full(path: Beneath, line: bytes, *, aside: Beneath) -> None:
        small_disk.fill()
        append(path, line, aside=aside)

    monkeypatch.setattr(atomic, "append_line", full)
    case.go_on(3)
    assert log.read_bytes()[-100:].startswith(b'{"schema": ')  # so much of it had room
    assert not told(case.root)
    small_disk.free()
    monkeypatch.setattr(atomic, "append_line", append)
    until = time.monotonic() + 30
    while not case.queue.idle():
        assert time.monotonic() < until, case.queue.status()
        case.go_on(1)
    lines = log.read_bytes().splitlines()
    assert len(lines) == 3
    assert lines[1] == lines[2][:100]
    assert [entry.outcome for entry in told(case.root)] == ["refused"]
    assert json.loads(lines[2])["sha256"] == job_harness.sha256(CONTENTS[1])
    assert (case.root / "rejected" / "1.png").read_bytes() == CONTENTS[1]


# --- inside the encoders -------------------------------------------------------------------------


def picture(path: Path) -> Path:
    """Soft tones all over, so that the film is full of dots and no encoder makes it small."""
    y, x = np.mgrid[0:900, 0:700]
    tones = 128 + 60 * np.sin(x / 61) * np.cos(y / 47)
    Image.fromarray(tones.astype(np.uint8)).save(path, "PNG")
    return path


def request(folder: Path, form: str, *, out: Path, scratch: Path) -> JobRequest:
    text = PROFILE.replace("mesh: 43-80", "mesh: none") + f"write: {form}\n"
    profile = read_profile(text, name="small", file="small.yaml")
    return JobRequest(
        art=picture(folder / "art"), name="art.png", profile=profile, out=out, scratch=scratch
    )


@pytest.mark.parametrize("form", list(Format))
@pytest.mark.parametrize("full", ["out", "scratch"])
def test_full_while_a_film_is_encoded_is_nobodys_fault(
    small_disk: SmallDisk, tmp_path: Path, form: str, full: str
) -> None:
    folders = {"out": tmp_path / "out", "scratch": tmp_path / "scratch"}
    folders[full] = small_disk.folder / full
    for folder in folders.values():
        folder.mkdir()
    asked = request(tmp_path, form, **folders)
    small_disk.fill()
    with pytest.raises(EnvironmentTrouble, match="no space left"):
        run_in_worker(asked, limits=WorkerLimits(seconds=120, memory=2**31))


_BOUND = """
import json, resource, sys
from pathlib import Path
resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[2]), int(sys.argv[2])))
from filmhand.errors import EnvironmentTrouble
from filmhand.worker.parent import WorkerLimits, run_in_worker
from filmhand.worker.wire import request_from_json
try:
    limits = WorkerLimits(seconds=120, memory=2**31)
    run_in_worker(request_from_json(json.loads(sys.argv[1])), limits=limits)
except EnvironmentTrouble as error:
    sys.exit(f"surroundings: {error}")
"""


@pytest.mark.parametrize("form", list(Format))
@pytest.mark.parametrize("most", [0, 1000, 20_000, 1_200_000])
def test_files_that_may_not_grow_while_a_film_is_encoded(
    tmp_path: Path, form: str, most: int
) -> None:
    """Without root and mounts: a limit on the size of files gives the same error in the encoder."""
    for name in ("out", "scratch"):
        (tmp_path / name).mkdir()
    asked = request(tmp_path, form, out=tmp_path / "out", scratch=tmp_path / "scratch")
    done = subprocess.run(
        [sys.executable, "-c", _BOUND, json.dumps(request_to_json(asked)), str(most)],
        # Python would keep a module whose compiled form was cut off by the limit.
        env={**os.environ, "PYTHONPATH": ":".join(sys.path), "PYTHONDONTWRITEBYTECODE": "1"},
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
    )
    large = max((path.stat().st_size for path in (tmp_path / "out").iterdir()), default=0)
    if done.returncode == 0:
        assert 0 < large <= most  # this film is smaller than the limit
    else:
        assert done.stderr.startswith("surroundings: There is no space left"), done.stderr[-600:]
