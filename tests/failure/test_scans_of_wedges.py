"""Scans that are dropped in calibrate/: read once, kept, refused like art, and safe from kills."""

from __future__ import annotations

import json
import os
import re
import signal
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import job_harness
import pytest
import warm_start
from job_harness import files_in, make_queue, sha256, work_through

from filmhand.jobs.failpoints import FAILPOINTS, FAILPOINTS_SCAN
from filmhand.jobs.job import Job
from filmhand.jobs.retry import refusals
from filmhand.profile.read.curve import is_of_reading
from filmhand.request import JobRequest, JobResult
from filmhand.service.history import retry_refused

SCANS = {
    "calibrate/print.png": b"scan of a print",
    "calibrate/film/film.png": b"scan of the film",
    "calibrate/glare.jpg": b"refuse this scan",
    "drop/print.png": b"art of that name",
}
STEPS = [*FAILPOINTS, *FAILPOINTS_SCAN]


def drop_all(root: Path) -> list[bytes]:
    for name, data in SCANS.items():
        path = root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
        os.utime(path, (1_700_000_000, 1_700_000_000))
    return list(SCANS.values())


def run(root: Path, state: Path, *, die_at: str = "", host: str = "here-00000000") -> int:
    said = {"FILMHAND_DIE_AT": die_at, "SCANS": "yes"}
    return warm_start.run(job_harness.__file__, root, state, host, **said)


def newest_curve(names: list[str]) -> str:
    return max(filter(is_of_reading, names))


def readings_of(root: Path, data: bytes) -> list[str]:
    """The names of all that was kept of a scan."""
    digest = sha256(data).encode()
    return [path.name for path in files_in(root / "curves") if digest in path.read_bytes()]


def assert_read_once(root: Path, dropped: list[bytes]) -> None:
    job_harness.assert_invariants(root, dropped)
    of_print = readings_of(root, SCANS["calibrate/print.png"])
    assert Counter(Path(name).suffix for name in of_print) == Counter([".json", ".png", ".txt"])
    assert len({Path(name).stem for name in of_print}) == 1
    (of_film,) = readings_of(root, SCANS["calibrate/film/film.png"])
    assert of_film.endswith(".json")
    assert len(files_in(root / "curves")) == 4
    assert newest_curve([path.name for path in files_in(root / "curves")]) in of_print
    kept = {path.read_bytes() for path in files_in(root / "originals")}
    assert kept == {data for data in dropped if not data.startswith(b"refuse")}


def test_scans_are_read_and_art_of_the_same_name_becomes_a_film(tmp_path: Path) -> None:
    root = tmp_path / "small"
    dropped = drop_all(root)
    said: list[tuple[str, str]] = []
    queue = make_queue(
        root,
        tmp_path / "state",
        reads_wedges=True,
        say=lambda event, **facts: said.append((event, facts.get("name", ""))),
    )
    work_through(queue)
    assert_read_once(root, dropped)
    assert sorted(said) == [
        ("made", "print.png"),
        ("read", "calibrate/film/film.png"),
        ("read", "calibrate/print.png"),
        ("refused", "calibrate/glare.jpg"),
    ]
    told = json.loads((root / "rejected/rejections.jsonl").read_text())
    assert told["name"] == "calibrate/glare.jpg"
    assert "too small" in (root / "rejected" / "glare.jpg.why.txt").read_text()
    assert [path.name for path in files_in(root / "positives")] == ["print.pdf", "print.tif"]
    assert re.fullmatch(
        r"\d{4}-\d{2}-\d{2}-\d{6}-\w+\.txt", readings_of(root, b"scan of a print")[-1]
    )


def test_a_profile_that_cannot_be_read_from_leaves_calibrate_alone(tmp_path: Path) -> None:
    root = tmp_path / "small"
    drop_all(root)
    work_through(make_queue(root, tmp_path / "state"))
    assert len(files_in(root / "calibrate")) == 3
    assert not (root / "curves").exists()


def test_scans_never_share_a_sheet_with_art(tmp_path: Path) -> None:
    root = tmp_path / "small"
    dropped = drop_all(root)
    for name in ("other.jpg", "third.jpg"):
        (root / "drop" / name).write_bytes(b"art " + name.encode())
        dropped.append(b"art " + name.encode())
    gang = job_harness.GangWishes(0.05)
    work_through(make_queue(root, tmp_path / "state", reads_wedges=True, gang=gang, room=None))
    of_print = readings_of(root, SCANS["calibrate/print.png"])
    assert len(of_print) == 3
    assert len(list((root / "positives").glob("*.pdf"))) == 1


@pytest.mark.parametrize(
    ("step", "deaths"),
    [*((step, ("1",)) for step in STEPS), *((s, d) for s in FAILPOINTS_SCAN for d in ("23", "31"))],
)
def test_killed_at_a_step_and_started_again(
    tmp_path: Path, step: str, deaths: Sequence[str]
) -> None:
    root, state = tmp_path / "small", tmp_path / "state"
    dropped = drop_all(root)
    for count in deaths:
        assert run(root, state, die_at=f"{step}:{count}") in {-signal.SIGKILL, 0}
        job_harness.assert_invariants_in_hand(root, dropped)
    assert run(root, state) == 0
    assert_read_once(root, dropped)


def test_another_host_takes_over_a_reading_in_the_middle(tmp_path: Path) -> None:
    root = tmp_path / "small"
    dropped = drop_all(root)
    died = run(root, tmp_path / "a", die_at="reading published", host="one-00000001")
    assert died == -signal.SIGKILL
    assert run(root, tmp_path / "b", host="two-00000002") == 0
    assert_read_once(root, dropped)


def test_a_name_that_somebody_takes_gets_another_number(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    root = tmp_path / "small"
    dropped = drop_all(root)
    queue = make_queue(root, tmp_path / "state", reads_wedges=True)
    save = Job.save

    def taken_meanwhile(job: Job) -> None:
        save(job)
        for item in job.publication.items:
            if item.kind == "curves" and item.name.endswith((".json", ".txt")):
                place = root / "curves" / item.name
                if "-2." not in item.name and not place.exists() and len(item.name) < 60:
                    place.write_bytes(b"of somebody else")

    monkeypatch.setattr(Job, "save", taken_meanwhile)
    work_through(queue)
    monkeypatch.undo()
    work_through(queue)
    job_harness.assert_invariants(root, dropped)
    names = readings_of(root, SCANS["calibrate/print.png"])
    assert len(names) == 3
    assert all("-2." in name for name in names)


def test_a_refused_scan_goes_back_to_where_it_was_dropped(tmp_path: Path) -> None:
    root = tmp_path / "small"
    drop_all(root)
    queue = make_queue(root, tmp_path / "state", reads_wedges=True)
    work_through(queue)
    (told,) = refusals(queue.context.folders)
    retry_refused({"small": queue.context.folders}, told["name"], tmp_path / "scratch")
    assert (root / "calibrate" / "glare.jpg").read_bytes() == SCANS["calibrate/glare.jpg"]
    assert files_in(root / "drop") == []
    work_through(queue)
    lines = (root / "rejected/rejections.jsonl").read_text().splitlines()
    assert [json.loads(line)["name"] for line in lines] == ["calibrate/glare.jpg"] * 2


def test_a_refused_scan_of_the_film_never_comes_back_as_art(tmp_path: Path) -> None:
    root = tmp_path / "small"
    for place in ("calibrate/film", "drop/calibrate/film"):
        (root / place).mkdir(parents=True)
        (root / place / "a.png").write_bytes(f"refuse {place}".encode())
    queue = make_queue(root, tmp_path / "state", reads_wedges=True)
    work_through(queue)
    note = " ".join((root / "rejected" / "film" / "a.png.why.txt").read_text().split())
    assert note.startswith("No curve was read") and note.endswith("put it back into calibrate.")
    for told in refusals(queue.context.folders):
        said = retry_refused({"small": queue.context.folders}, told["job"], tmp_path / "scratch")
        assert said.startswith("film/a.png is back in calibrate of") is (
            told["kept"] == "film/a.png"
        )
    for place in ("calibrate/film", "drop/calibrate/film"):
        assert (root / place / "a.png").read_bytes() == f"refuse {place}".encode()


def test_the_newest_by_name_was_read_last_though_it_was_taken_on_the_day_before(
    tmp_path: Path,
) -> None:
    root, days = tmp_path / "small", iter(("2026-03-01T23:59:50", "2026-03-02T00:00:10"))
    now = [datetime.fromisoformat(f"{next(days)}+00:00")]

    def slow(request: JobRequest) -> JobResult:
        made = job_harness.render(request)
        now[0] = max(now[0], datetime.fromisoformat(f"{next(days, '2026-03-02T12:00:00')}+00:00"))
        return made

    queue = make_queue(root, tmp_path / "state", reads_wedges=True, render=slow, now=lambda: now[0])
    for data in (b"first", b"second"):
        (root / "calibrate").mkdir(parents=True, exist_ok=True)
        (root / "calibrate" / "print.png").write_bytes(data)
        work_through(queue)
        newest = newest_curve([path.name for path in files_in(root / "curves")])
        assert newest in readings_of(root, data)


def test_a_scan_that_was_read_is_no_earlier_film_of_the_same_picture(tmp_path: Path) -> None:
    root = tmp_path / "small"
    queue = make_queue(root, tmp_path / "state", reads_wedges=True)
    for folder in ("calibrate", "drop"):
        (root / folder).mkdir(parents=True, exist_ok=True)
        (root / folder / "print.png").write_bytes(b"scan of a print")
        work_through(queue)
    assert json.loads((root / "records" / "print.json").read_text())["earlier"] is None


def test_scans_that_come_together_are_read_together_though_one_comes_meanwhile(
    tmp_path: Path,
) -> None:
    root, seen = tmp_path / "small", []
    now = datetime.fromisoformat("2026-03-01T10:00:00+00:00")
    of_another_host = "2026-03-01-100012-0a1b2c3d.json"

    def read(request: JobRequest) -> JobResult:
        seen.append((request.name, [path.name for path in request.earlier]))
        if len(seen) == 2:
            (root / "curves" / of_another_host).write_bytes(b"{}")
        return job_harness.render(request)

    queue = make_queue(root, tmp_path / "state", reads_wedges=True, render=read, now=lambda: now)
    (root / "curves").mkdir(parents=True)
    long_before = "2026-03-01-092000-0a1b2c3d.json"
    (root / "curves" / long_before).write_bytes(b"{}")
    (root / "curves" / "2026-13-77-999999-0a1b2c3d.json").write_bytes(b"{}")
    for name in ("a.png", "b.png"):
        (root / "calibrate").mkdir(exist_ok=True)
        (root / "calibrate" / name).write_bytes(name.encode())
        work_through(queue)
    (first,) = (n for n in readings_of(root, b"a.png") if n.endswith(".json"))
    together = [("b.png", [first]), ("b.png", [first, of_another_host])]
    assert seen == [("a.png", []), *together]
    assert newest_curve([p.name for p in files_in(root / "curves")]) in readings_of(root, b"b.png")
    assert len(readings_of(root, b"b.png")) == 3


@pytest.mark.parametrize("notes", [None, b"{}"])
def test_a_scan_whose_job_lost_its_notes_goes_back_to_where_it_lay(
    tmp_path: Path, notes: bytes | None
) -> None:
    root, state = tmp_path / "small", tmp_path / "state"
    scan = root / "calibrate" / "film" / "film.png"
    scan.parent.mkdir(parents=True)
    scan.write_bytes(SCANS["calibrate/film/film.png"])
    os.utime(scan, (1_700_000_000, 1_700_000_000))
    assert run(root, state, die_at="claim recorded:1") == -signal.SIGKILL
    (told,) = (root / ".filmhand").glob("*/*/job.json")
    told.unlink() if notes is None else told.write_bytes(notes)
    said: list[str] = []
    queue = make_queue(
        root, state, reads_wedges=True, say=lambda event, **facts: said.append(event)
    )
    work_through(queue)
    assert "a job lost its notes; its scan is back in calibrate" in said
    assert files_in(root / "positives") == [] and "read" in said
    assert len(readings_of(root, SCANS["calibrate/film/film.png"])) == 1


def test_scans_count_as_no_films_and_their_folders_stay(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    root = tmp_path / "small"
    drop_all(root)
    (root / "calibrate" / "of Ana").mkdir()
    monkeypatch.setattr("filmhand.queue.triage.EMPTY_FOR", 0.0)
    queue = make_queue(root, tmp_path / "state", reads_wedges=True)
    work_through(queue)
    queue.look()
    counts = queue.context.counts
    assert (counts.made, counts.rendered, counts.refused) == (1, 1, 1)
    assert queue.context.ledger.counts() == {"made": 1, "refused": 1}
    assert [path.name for path in (root / "calibrate").iterdir()] == ["film"]


def test_scans_of_an_ink_leave_their_readings_in_its_own_folder(tmp_path: Path) -> None:
    root = tmp_path / "small"
    queue = make_queue(root, tmp_path / "state", reads_wedges=True, own_curves=("red", "blue"))
    queue.look()
    assert sorted(path.name for path in (root / "calibrate").iterdir()) == ["blue", "film", "red"]
    places = ("red", "RED", "blue", "of Ana")
    for place in places:
        (root / "calibrate" / place).mkdir(exist_ok=True)
        (root / "calibrate" / place / "a.png").write_bytes(place.encode())
    work_through(queue)
    kept = {path: path.read_bytes() for path in files_in(root / "curves")}
    lie = {
        place: {path.parent.name for path in kept if sha256(place.encode()).encode() in kept[path]}
        for place in places
    }
    assert lie == {"red": {"red"}, "RED": {"red"}, "blue": {"blue"}, "of Ana": {"curves"}}


def test_the_curve_of_an_ink_that_was_renamed_meanwhile_is_in_force_for_no_other(
    tmp_path: Path,
) -> None:
    root = tmp_path / "small"

    def rename_and_read(request: JobRequest) -> JobResult:
        changed = replace(queue.settings, snapshot={"name": "small"}, own_curves=("crimson",))
        queue.change(changed)
        return job_harness.render(request)

    queue = make_queue(
        root, tmp_path / "state", reads_wedges=True, own_curves=("red",), render=rename_and_read
    )
    (root / "calibrate" / "red").mkdir(parents=True)
    (root / "calibrate" / "red" / "a.png").write_bytes(b"scan")
    work_through(queue)
    kept = files_in(root / "curves")
    assert len(kept) == 3 and {path.parent.name for path in kept} == {"red"}
