"""Killed at every step, once and twice: the next start finishes everything, once."""

from __future__ import annotations

import os
import signal
from collections import Counter
from collections.abc import Mapping
from pathlib import Path

import job_harness
import pytest
import warm_start

from filmhand.jobs.failpoints import FAILPOINTS

FILES = {
    "bad.gif": b"refuse this",
    "bad.gif.ticket.yaml": b"ticket of bad",
    "poster.jpg": b"art of a poster",
    "poster.jpg.ticket.yaml": b"ticket of poster",
    "poster.jpg.clear.png": b"mask of poster",
    "class 4/pages.tif": b"pages of a book",
    "class 4/worse.gif": b"refuse this too",
}


def drop_all(root: Path, files: Mapping[str, bytes] = FILES) -> list[bytes]:
    for name, data in files.items():
        path = root / "drop" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
        os.utime(path, (1_700_000_000, 1_700_000_000))
    return list(files.values())


def run(root: Path, state: Path, *, die_at: str = "", host: str = "here-00000000") -> int:
    return warm_start.run(job_harness.__file__, root, state, host, FILMHAND_DIE_AT=die_at)


@pytest.mark.parametrize("step", FAILPOINTS)
@pytest.mark.parametrize("deaths", [("1",), ("1", "1"), ("2", "1")])
def test_killed_at_a_step_and_started_again(
    tmp_path: Path, step: str, deaths: tuple[str, ...]
) -> None:
    root, state = tmp_path / "small", tmp_path / "state"
    dropped = drop_all(root)
    for count in deaths:
        died = run(root, state, die_at=f"{step}:{count}")
        assert died == -signal.SIGKILL or count != deaths[0]
        job_harness.assert_invariants_in_hand(root, dropped)
    assert run(root, state) == 0
    job_harness.assert_invariants(root, dropped)
    renders = Counter((state / "scratch" / "renders").read_text().split())
    # A job is rendered again at most once for each death; its results appear once all the same.
    assert max(renders.values()) <= 1 + len(deaths)
    assert {path.name for path in (root / "originals").iterdir()} == {
        "poster.jpg",
        "poster.jpg.ticket.yaml",
        "poster.jpg.clear.png",
        "class 4",
    }
    assert {path.name for path in (root / "rejected").iterdir()} == {
        "bad.gif",
        "bad.gif.ticket.yaml",
        "bad.gif.why.txt",
        "class 4",
        "rejections.jsonl",
    }


@pytest.mark.parametrize("step", FAILPOINTS)
def test_killed_at_a_step_and_adopted_by_another_host(tmp_path: Path, step: str) -> None:
    root = tmp_path / "small"
    dropped = drop_all(root)
    assert run(root, tmp_path / "a", die_at=step, host="one-00000001") == -signal.SIGKILL
    assert run(root, tmp_path / "b", host="two-00000002") == 0
    job_harness.assert_invariants(root, dropped)
    assert not (root / ".filmhand" / "one-00000001").exists()


def test_a_name_that_is_no_step_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    from filmhand.jobs import failpoints

    monkeypatch.setattr(failpoints, "_DIE_AT", "art claimed")
    with pytest.raises(ValueError, match="in no list of steps"):
        failpoints.failpoint("lunch")
