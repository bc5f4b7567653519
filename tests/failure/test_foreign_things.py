"""What network disks, desktop programs and network file systems leave in filmhand's own folders."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import job_harness
import pytest

from filmhand.disk import set_aside
from filmhand.disk.beneath import as_beneath
from filmhand.peers import host
from filmhand.request import JobRequest, JobResult

REMADE = (".DS_Store", "Thumbs.db", "._poster.png")
KEPT = ("desktop.ini", ".nfs000000001", "~$notes.doc", ".fuse_hidden0001", "copy.tmp")


def litter(folder: Path) -> None:
    """All that such systems put into a folder that they see."""
    for name in (*REMADE, *KEPT):
        (folder / name).write_bytes(b"litter")
    for name in ("@eaDir", ".@__thumb", "lost+found"):
        (folder / name / "deeper").mkdir(parents=True, exist_ok=True)
        (folder / name / "deeper" / "SYNO@.fileindexdb").write_bytes(b"litter")


def litter_everywhere(hidden: Path) -> None:
    for place, inside, _ in os.walk(hidden):
        inside[:] = [name for name in inside if name not in {"@eaDir", ".@__thumb", "lost+found",
                                                            "deeper", "set-aside"}]  # fmt: skip
        litter(Path(place))


def littered(root: Path, result: Any) -> Any:
    """A renderer that finds litter in every folder when it is done."""

    def render(*given: Any) -> Any:
        try:
            return result(*given)
        finally:
            litter_everywhere(root / ".filmhand")

    return render


@pytest.mark.parametrize("data", [b"art", b"pages", b"refuse"])
def test_litter_in_every_folder_of_a_job_never_stops_its_end(tmp_path: Path, data: bytes) -> None:
    root, said = tmp_path / "small", []
    queue = job_harness.make_queue(
        root,
        tmp_path / "state",
        render=littered(root, job_harness.render),
        say=lambda event, **facts: said.append(event),
    )
    queue.look()
    for name in ("a.png", "b.png"):
        (root / "drop" / name).write_bytes(data + b" " + name.encode())
    job_harness.work_through(queue)
    assert not queue.trouble.why
    ends = "rejected" if data == b"refuse" else "originals"
    assert {"a.png", "b.png"} <= {path.name for path in (root / ends).iterdir()}
    assert [path for path in (root / "drop").rglob("*") if path.is_file()] == []
    aside = [path.name for path in (root / ".filmhand" / "set-aside").iterdir()]
    assert set(KEPT) <= set(aside)  # nothing of unknown worth is deleted ...
    assert not set(REMADE) & set(aside)  # ... and nothing is kept that comes again by itself
    assert said.count("set aside") == 2  # once a job
    queue.close()
    assert not (root / ".filmhand" / "here-00000000").exists()
    ((worry, _),) = set_aside.worries(as_beneath(root / ".filmhand"))
    assert "desktop.ini" in worry and "set-aside" in worry


def test_litter_in_the_folder_of_a_gang(tmp_path: Path) -> None:
    root = tmp_path / "small"
    queue = job_harness.make_queue(
        root, tmp_path / "state", render_gang=littered(root, job_harness.render_gang),
        gang=job_harness.GangWishes(wait=0.1),
    )  # fmt: skip
    queue.look()
    for name in ("a.png", "b.png"):
        (root / "drop" / name).write_bytes(b"art " + name.encode())
    job_harness.work_through(queue)
    assert not queue.trouble.why
    assert {"a.png", "b.png"} == {path.name for path in (root / "originals").iterdir()}
    queue.close()
    assert not (root / ".filmhand" / "here-00000000").exists()


def test_helper_folders_are_no_jobs_to_take_over(tmp_path: Path) -> None:
    root, other = tmp_path / "small", "there-11111111"
    queue = job_harness.make_queue(root, tmp_path / "state", takeover=0.0)
    queue.look()
    folder = root / ".filmhand" / other
    folder.mkdir()
    litter(folder)
    queue = job_harness.make_queue(root, tmp_path / "state", takeover=0.0)
    for _ in range(2):
        queue._sign_at = float("-inf")  # each look gives a sign of life and takes over
        queue.look()
    assert not folder.exists()
    own = root / ".filmhand" / "here-00000000"
    assert [path.name for path in own.iterdir() if path.is_dir()] == []
    assert host.Peers(as_beneath(root / ".filmhand"), "here-00000000").others() == []


def test_a_strangers_file_in_a_jobs_hands_goes_to_drop(tmp_path: Path) -> None:
    root = tmp_path / "small"

    def render(order: JobRequest) -> JobResult:
        (held,) = (root / ".filmhand").glob("*/*/held")
        if order.name == "a.png":
            (held / "found.png").write_bytes(b"art of a stranger")
        return job_harness.render(order)

    queue = job_harness.make_queue(root, tmp_path / "state", render=render)
    queue.look()
    (root / "drop" / "a.png").write_bytes(b"art")
    job_harness.work_through(queue)
    assert (root / "originals" / "found.png").read_bytes() == b"art of a stranger"
    assert (root / "originals" / "a.png").read_bytes() == b"art"


def test_a_folder_that_cannot_be_emptied_yet_is_out_of_the_way_and_tidied_later(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A network file system keeps a removed file that is open, under a name of its own."""
    stuck = {".nfs000000001"}
    truly = set_aside.atomic.move_aside

    def refused(path: Path, into: Path) -> Path:
        if path.name in stuck:
            raise OSError(16, "Device or resource busy")
        return truly(path, into)

    monkeypatch.setattr(set_aside.atomic, "move_aside", refused)
    root = tmp_path / "small"
    queue = job_harness.make_queue(
        root, tmp_path / "state", render=littered(root, job_harness.render)
    )
    queue.look()
    (root / "drop" / "a.png").write_bytes(b"art")
    job_harness.work_through(queue)
    assert not queue.trouble.why
    assert queue.idle()
    aside = root / ".filmhand" / "set-aside"
    for path in list(aside.rglob(".nfs*")):
        path.unlink()
    for name in KEPT:
        for path in list(aside.rglob(name + "*")):
            path.unlink()
    set_aside.tidy(as_beneath(root / ".filmhand"))
    assert not [path for path in aside.rglob("*") if "held" in path.name or "out" in path.name]


def test_a_sub_folder_that_holds_only_helpers_is_empty(tmp_path: Path) -> None:
    now = [0.0]
    root = tmp_path / "small"
    queue = job_harness.make_queue(root, tmp_path / "state", clock=lambda: now[0])
    queue.look()
    for name, inside in (("class 4", (".DS_Store", "@eaDir/x")), ("class 5", ("a.png.part",))):
        for one in inside:
            (root / "drop" / name / one).parent.mkdir(parents=True, exist_ok=True)
            (root / "drop" / name / one).write_bytes(b"x")
    queue.look()
    now[0] += 3601
    queue.look()
    assert not (root / "drop" / "class 4").exists()
    assert (root / "drop" / "class 5" / "a.png.part").exists()
