"""Refused art put back into drop: whole, once, whatever kills it on the way."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from collections import Counter
from pathlib import Path

import job_harness
import pytest
from click.testing import CliRunner
from job_harness import files_in

from filmhand.cli import main
from filmhand.disk.folders import Folders
from filmhand.errors import FilmhandError
from filmhand.jobs.failpoints import FAILPOINTS_RETRY
from filmhand.service.history import retry_refused

BAD = {
    "class 4/bad.gif": b"refuse this",
    "class 4/bad.gif.ticket.yaml": b"ticket of bad",
    "class 4/bad.gif.clear.png": b"mask of bad",
}


def drop(root: Path, files: dict[str, bytes]) -> None:
    for name, data in files.items():
        path = root / "drop" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)


def refuse(root: Path, state: Path, files: dict[str, bytes] | None = None) -> list[str]:
    """The jobs that were refused, oldest first."""
    drop(root, files or BAD)
    job_harness.work_through(job_harness.make_queue(root, state))
    lines = (root / "rejected" / "rejections.jsonl").read_bytes().splitlines()
    return [json.loads(line)["job"] for line in lines]


def retry(root: Path, job: str, *, die_at: str = "") -> int:
    if not die_at:
        return CliRunner().invoke(main, ["retry", str(root.parent), job]).exit_code
    command = [sys.executable, "-m", "filmhand", "retry", str(root.parent), job]
    search = os.pathsep.join(sys.path)
    environment = {**os.environ, "PYTHONPATH": search, "FILMHAND_DIE_AT": die_at}
    return subprocess.run(command, env=environment, check=False, timeout=60).returncode


def kept(root: Path) -> Counter[bytes]:
    """Every customer's content, wherever it is."""
    places = [root / "drop", root / "originals", root / "rejected"]
    places += (root / ".filmhand").glob("*/*/held")
    return Counter(
        path.read_bytes()
        for place in places
        for path in files_in(place)
        if not job_harness.is_our_note(path.name)
    )


def lying(root: Path, place: str) -> dict[str, bytes]:
    top = root / place
    return {str(path.relative_to(top)): path.read_bytes() for path in files_in(top)}


@pytest.fixture
def root(tmp_path: Path) -> Path:
    (tmp_path / "station" / "profiles").mkdir(parents=True)
    text = "sheet: letter\ndpi: 300\nlpi: 25\ndot: round\nthreshold: 50\n"
    text += "mesh: 43-80\nmargin: 6 mm\n"
    (tmp_path / "station" / "profiles" / "small.yaml").write_text(text)
    return tmp_path / "station" / "small"


def test_everything_goes_back_under_its_own_name(root: Path, tmp_path: Path) -> None:
    (job,) = refuse(root, tmp_path / "state")
    assert retry(root, job) == 0
    assert lying(root, "drop") == BAD
    assert set(lying(root, "rejected")) == {"rejections.jsonl"}
    left = sorted(path.name for path in (root / ".filmhand").iterdir())
    assert left == ["folder.json", "here-00000000"]
    job_harness.work_through(job_harness.make_queue(root, tmp_path / "state"))
    lines = (root / "rejected" / "rejections.jsonl").read_bytes().splitlines()
    assert len({json.loads(line)["job"] for line in lines}) == 2  # tried again, refused again
    assert lying(root, "drop") == {}


def test_a_name_in_drop_is_never_taken(root: Path, tmp_path: Path) -> None:
    (job,) = refuse(root, tmp_path / "state")
    newer = {"class 4/bad.gif": b"art, a better one", "class 4/bad-2.gif.clear.png": b"mask"}
    drop(root, newer)
    assert retry(root, job) == 0
    assert lying(root, "drop") == newer | {
        "class 4/bad-3.gif": BAD["class 4/bad.gif"],
        "class 4/bad-3.gif.ticket.yaml": BAD["class 4/bad.gif.ticket.yaml"],
        "class 4/bad-3.gif.clear.png": BAD["class 4/bad.gif.clear.png"],
    }


def test_twins_are_told_apart(root: Path, tmp_path: Path) -> None:
    """The same file refused twice: each job brings back its own, with its own ticket."""
    refuse(root, tmp_path / "state", {"a.gif": b"refuse", "a.gif.ticket.yaml": b"ticket 1"})
    one, two = refuse(
        root, tmp_path / "state", {"a.gif": b"refuse", "a.gif.ticket.yaml": b"ticket 2"}
    )
    assert retry(root, two) == 0
    assert lying(root, "drop") == {"a.gif": b"refuse", "a.gif.ticket.yaml": b"ticket 2"}
    assert retry(root, two) == 1
    assert retry(root, one) == 0
    assert lying(root, "drop")["a-2.gif.ticket.yaml"] == b"ticket 1"
    assert set(lying(root, "rejected")) == {"rejections.jsonl"}


@pytest.mark.parametrize(
    "name",
    [
        "bad.gif",
        "class 4/bad.gif",
        "BAD.GIF",
        "rejected/class 4/bad.gif",
        "small/class 4/bad.gif",
        "small/rejected/class 4/bad.gif",
        "bad.gif.why.txt",
        "class 4/bad.gif.why.txt",
    ],
)
def test_a_name_will_do(root: Path, tmp_path: Path, name: str) -> None:
    refuse(root, tmp_path / "state")
    assert retry(root, name) == 0
    assert lying(root, "drop") == BAD
    assert set(lying(root, "rejected")) == {"rejections.jsonl"}
    assert retry(root, name) == 1
    assert lying(root, "drop") == BAD


def test_the_name_that_it_got_in_rejected_will_do(root: Path, tmp_path: Path) -> None:
    refuse(root, tmp_path / "state", {"a.gif": b"refuse one"})
    refuse(root, tmp_path / "state", {"a.gif": b"refuse two"})
    assert retry(root, "a-2.gif") == 0
    assert lying(root, "drop") == {"a.gif": b"refuse two"}
    assert retry(root, "a.gif") == 0  # the only one that is left
    assert lying(root, "drop") == {"a.gif": b"refuse two", "a-2.gif": b"refuse one"}


def test_a_name_of_several_files_moves_none_and_lists_them(root: Path, tmp_path: Path) -> None:
    files = {"class 4/a.gif": b"refuse one", "class 5/a.gif": b"refuse two"}
    jobs = refuse(root, tmp_path / "state", files)
    with pytest.raises(FilmhandError, match="Several refused files are called a") as told:
        retry_refused({"small": Folders(root)}, "a.gif", tmp_path)
    assert all(job in str(told.value) for job in jobs)
    assert "small/class 4/a.gif" in str(told.value)
    assert lying(root, "drop") == {}
    assert set(files) <= set(lying(root, "rejected"))
    assert retry(root, "class 5/a.gif") == 0
    assert lying(root, "drop") == {"class 5/a.gif": b"refuse two"}


def test_a_file_that_lies_in_no_sub_folder_can_be_told_from_others(
    root: Path, tmp_path: Path
) -> None:
    refuse(root, tmp_path / "state", {"class 4/a.gif": b"refuse one", "a.gif": b"refuse two"})
    assert retry(root, "a.gif") == 1
    assert lying(root, "drop") == {}
    assert retry(root, "rejected/a.gif") == 0
    assert lying(root, "drop") == {"a.gif": b"refuse two"}


def test_art_that_could_not_be_read_is_found_by_its_place_alone(root: Path, tmp_path: Path) -> None:
    """Its line has no hash; by now somebody has given the rights to read it."""
    (job,) = refuse(root, tmp_path / "state")
    log = root / "rejected" / "rejections.jsonl"
    line = json.loads(log.read_text())
    log.write_text(json.dumps(line | {"sha256": "", "reason": "unreadable"}) + "\n")
    (root / "rejected" / "class 4" / "bad-2.gif").write_bytes(b"of somebody else")
    assert retry(root, job) == 0
    assert (root / "drop" / "class 4" / "bad.gif").read_bytes() == b"refuse this"
    assert (root / "rejected" / "class 4" / "bad-2.gif").exists()


def test_what_cannot_be_put_back_is_told_why(root: Path, tmp_path: Path) -> None:
    (job,) = refuse(root, tmp_path / "state", {"a.gif": b"refuse", "b.png": b"art"})
    roots = {"small": Folders(root)}
    (root / "rejected" / "a.gif").write_bytes(b"exchanged by somebody")
    with pytest.raises(FilmhandError, match="no longer in rejected"):
        retry_refused(roots, job, tmp_path)
    record = json.loads((root / "records" / "b.json").read_bytes())
    with pytest.raises(FilmhandError, match="copy the file from originals"):
        retry_refused(roots, record["job"], tmp_path)
    with pytest.raises(FilmhandError, match="No refused file or job"):
        retry_refused(roots, "20260301T100000-00000000", tmp_path)
    with pytest.raises(FilmhandError, match="no longer in rejected"):
        retry_refused(roots, "a.gif", tmp_path)
    assert lying(root, "drop") == {}


def test_the_log_of_an_older_version_does_not_say_where_it_lies(root: Path, tmp_path: Path) -> None:
    refuse(root, tmp_path / "state", {"a.gif": b"refuse one"})
    _, job = refuse(root, tmp_path / "state", {"a.gif": b"refuse two"})
    log = root / "rejected" / "rejections.jsonl"
    lines = [json.loads(line) for line in log.read_bytes().splitlines()]
    log.write_text(
        "".join(json.dumps({k: v for k, v in x.items() if k != "kept"}) + "\n" for x in lines)
    )
    assert retry(root, job) == 0
    assert lying(root, "drop") == {"a.gif": b"refuse two"}


@pytest.mark.parametrize("step", FAILPOINTS_RETRY)
@pytest.mark.parametrize("count", ["1", "2"])
def test_killed_at_a_step_the_service_ends_it(
    root: Path, tmp_path: Path, step: str, count: str
) -> None:
    (job,) = refuse(root, tmp_path / "state")
    died = retry(root, job, die_at=f"{step}:{count}")
    assert died == (-signal.SIGKILL if count == "1" or step == "companions fetched" else 0)
    assert kept(root) == Counter(BAD.values())
    # Another host takes over at once what a dead process of this computer left behind.
    job_harness.work_through(job_harness.make_queue(root, tmp_path / "state"))
    assert kept(root) == Counter(BAD.values())
    assert lying(root, "drop") == {}  # given back, taken, refused again
    lines = (root / "rejected" / "rejections.jsonl").read_bytes().splitlines()
    assert len({json.loads(line)["job"] for line in lines}) == 2
    assert lying(root, "rejected").keys() == BAD.keys() | {
        "class 4/bad.gif.why.txt",
        *(path.name for path in (root / "rejected").glob("rejections*.jsonl")),
    }
    in_hand = [path.name for path in files_in(root / ".filmhand")]
    assert sorted(in_hand) == ["alive", "folder.json"]


@pytest.mark.parametrize("step", FAILPOINTS_RETRY)
def test_killed_and_tried_once_more(root: Path, tmp_path: Path, step: str) -> None:
    """A second retry after the first was killed loses nothing either."""
    (job,) = refuse(root, tmp_path / "state")
    assert retry(root, job, die_at=step) == -signal.SIGKILL
    retry(root, job)
    assert kept(root) == Counter(BAD.values())
    job_harness.work_through(job_harness.make_queue(root, tmp_path / "state"))
    assert kept(root) == Counter(BAD.values())
    assert lying(root, "drop") == {}
