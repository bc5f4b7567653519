"""What doctor says of each thing, and how it is meant, on computers of the test's making."""

from __future__ import annotations

import errno
import json
import resource
import stat
from collections.abc import Iterable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from filmhand import __version__
from filmhand.disk.beneath import Beneath
from filmhand.disk.folders import Folders
from filmhand.disk.free_space import Space
from filmhand.errors import EnvironmentTrouble
from filmhand.peers.host import Lock
from filmhand.peers.survey import HostSeen
from filmhand.service.doctor import cluster as of_clusters
from filmhand.service.doctor import examine, folder_probe, job_process, private_folder
from filmhand.service.doctor.doctor_words import Examined, Level, Topic
from filmhand.service.doctor.folder_probe import Finding
from filmhand.service.profile_registry import ProfileRegistry
from filmhand.service.station_mark import StationMark
from filmhand.worker.sandbox_trial import Reach

WHERE = {"here", "this computer", "state folder", "station", "profiles", "small"}


def told(findings: Iterable[Finding]) -> dict[str, tuple[str, str]]:
    """How each thing is meant, and what is said of it."""
    found = {}
    for one in findings:
        assert one.what not in found
        assert one.where in WHERE
        # What is wrong comes with what to do, and what is well does not.
        assert bool(one.do) is (one.level is not Level.OK), one
        found[one.what] = (one.level.value, one.say)
    return found


@pytest.fixture
def folders(tmp_path: Path) -> Folders:
    one = Folders(tmp_path / "small")
    one.make()
    return one


# --- this computer ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("files", "level"), [(255, "wrong"), (256, "ok"), (resource.RLIM_INFINITY, "ok")]
)
def test_this_computer(monkeypatch: pytest.MonkeyPatch, files: int, level: str) -> None:
    sizes = {"SC_PAGE_SIZE": 4096, "SC_PHYS_PAGES": 3 * 2**18}
    monkeypatch.setattr(examine.os, "sysconf", sizes.__getitem__)
    monkeypatch.setattr(examine, "usable_cores", lambda: 4)
    monkeypatch.setattr(examine, "examine_job_process", lambda where: iter(()))
    monkeypatch.setattr(examine.resource, "getrlimit", lambda what: (files, 10**6))
    found = told(examine._computer())
    assert found["versions"][1].startswith(f"filmhand {__version__}, Python 3.")
    assert found["cores and memory"] == (
        "ok", "4 cores can be used; the computer has 3.0 GiB of memory.",
    )  # fmt: skip
    assert found["open files"] == (level, f"{files} files may be open at once.")


@pytest.mark.parametrize(
    ("built", "plain", "level", "say"),
    [
        (True, False, "ok", "The inner loops run compiled."),
        (False, True, "note", "The inner loops run in NumPy, as FILMHAND_PLAIN asks; films"),
        (False, False, "note", "The inner loops run in NumPy, as they were not compiled when"),
    ],
)
def test_which_loops_run(
    monkeypatch: pytest.MonkeyPatch, built: bool, plain: bool, level: str, say: str
) -> None:
    monkeypatch.setattr(examine, "compiled", lambda: object() if built else None)
    monkeypatch.setattr(examine, "is_plain", lambda: plain)
    found = told([examine._loops()])["inner loops"]
    assert found[0] == level and found[1].startswith(say)


@pytest.mark.parametrize(
    ("reach", "level", "say"),
    [
        (Reach(4, True, False, False, False), "ok",
         "not other files, the network or other processes (Landlock 4 and a filter for system "
         "calls)."),
        (Reach(0, False, True, True, True), "note",
         "could reach other files, the network and other processes here."),
        (Reach(0, True, True, False, True), "note",
         "other files and other processes here, though not the network (a filter for system"),
    ],
)  # fmt: skip
def test_what_a_jobs_process_reaches(reach: Reach, level: str, say: str) -> None:
    found = told([job_process.finding_of(reach, "here")])["sandbox"]
    assert found[0] == level and say in found[1]


def test_a_trial_that_cannot_be_made_is_wrong(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail() -> Reach:
        raise FileNotFoundError(errno.ENOENT, "no Python")

    monkeypatch.setattr(job_process, "reach_of_a_job", fail)
    level, say = told(job_process.examine_job_process("here"))["sandbox"]
    assert (level, say.endswith("can reach: FileNotFoundError.")) == ("wrong", True)


# --- the state folder and the station -----------------------------------------------------------


def test_the_state_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    state = tmp_path / "not" / "made" / "yet"
    low, network = [False], [False]
    space = lambda folder: Space(2**29 if low[0] else 2**40, 2**41)  # noqa: E731
    monkeypatch.setattr(examine, "space_of", space)
    monkeypatch.setattr(examine, "is_network", lambda path: network[0])
    found = told(examine._state(state))
    assert found["service"] == ("ok", "The service of this station does not run.")
    assert found["local disk"] == ("ok", f"{state} is on this computer.")
    assert found["space"][0] == "ok"
    assert list(tmp_path.iterdir()) == []
    low[0] = network[0] = True
    found = told(examine._state(state))
    assert (found["space"][0], found["local disk"][0]) == ("wrong", "note")
    lock = Lock(tmp_path)
    assert told(examine._state(tmp_path))["service"][1].endswith("station runs.")
    lock.release()

    def refuse(folder: Path) -> Space:
        raise PermissionError(errno.EACCES, "Permission denied")

    monkeypatch.setattr(examine, "space_of", refuse)
    found = told(examine._state(state))
    assert found["rights"] == (
        "wrong", f"Nothing can be written in {tmp_path}: Permission denied.",
    )  # fmt: skip


def test_the_station(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    station, state = tmp_path / "station", tmp_path / "state"

    def findings(*, init: bool = False) -> dict[str, tuple[str, str]]:
        return told(examine._station(station, StationMark(station, state), init=init))

    assert findings() == {
        "folder": ("note", f"{station} is not there yet; the service makes it when it starts.")
    }
    station.mkdir()
    assert findings() == {"mark": ("note", f"{station} is empty and carries no mark of filmhand.")}
    (station / "small").mkdir()
    assert findings() == {}
    StationMark(station, state).begin()
    assert findings() == findings(init=True) == {}
    (station / ".filmhand" / "station").unlink()
    assert findings()["mark"][0] == "wrong"
    assert "lacks the mark" in findings()["mark"][1]
    found = findings(init=True)
    assert found["mark"] == ("ok", f"{station} carries a new mark; it is the station from now on.")
    (station / ".filmhand" / "station").unlink()

    def refuse(self: StationMark) -> bool:
        raise PermissionError(errno.EACCES, "Permission denied")

    monkeypatch.setattr(StationMark, "renew", refuse)
    found = findings(init=True)
    assert found["mark"] == ("wrong", f"{station} could not be marked: Permission denied.")


# --- profiles -----------------------------------------------------------------------------------


def test_profiles_that_are_right_wrong_or_missing(tmp_path: Path) -> None:
    registry = ProfileRegistry(tmp_path / "profiles", tmp_path)
    (level, say) = told(examine._profiles(registry))["profile"]
    assert (level, say) == ("wrong", f"There is no profile in {tmp_path / 'profiles'}.")
    registry.faults = ["small.yaml line 1"]
    assert told(examine._profiles(registry)) == {"profile": ("wrong", "small.yaml line 1")}
    registry.profiles = {"b": object(), "a": object()}  # type: ignore[dict-item]
    found = list(examine._profiles(registry))
    assert [(one.level, one.say) for one in found] == [
        (Level.WRONG, "small.yaml line 1"),
        (Level.OK, "Right: a, b."),
    ]


def test_a_profiles_own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(examine, "probe", lambda folders, where: iter(()))
    monkeypatch.setattr(examine, "try_file_system", lambda trial, where: iter(()))
    monkeypatch.setattr(examine, "private_folder", lambda folders, where: iter(()))

    def findings(folders: Folders, *, init: bool = False) -> dict[str, tuple[str, str]]:
        return told(examine._folder("small", folders, tmp_path, init=init))

    own = Folders(tmp_path / "small")
    assert findings(own) == {
        "marker": ("ok", f"{own.root} is new; the service makes it when it starts.")
    }
    own.make()
    assert findings(own) == {"marker": ("ok", f"{own.root} carries filmhand's mark.")}
    away = Folders(tmp_path / "share" / "small", elsewhere=True)
    assert findings(away) == {"marker": ("wrong", f"{away.root} is not there or is not prepared.")}
    assert findings(away, init=True) == {
        "prepared": (
            "wrong", f"{away.root} could not be prepared: the folder above it is not there.",
        )
    }  # fmt: skip
    away.root.parent.mkdir()
    found = findings(away, init=True)
    assert found["prepared"] == ("ok", f"{away.root} is prepared and carries the mark now.")
    assert found["marker"][0] == "ok"
    assert "prepared" not in findings(away, init=True)

    def refuse(parent: Any) -> Any:
        raise PermissionError(errno.EACCES, "Permission denied")

    monkeypatch.setattr(examine.atomic, "temporary_folder", refuse)
    found = findings(Folders(tmp_path / "other"))
    assert found["rights"] == (
        "wrong", f"Nothing can be written in {tmp_path}: Permission denied.",
    )  # fmt: skip


def test_films_that_would_be_art_again(folders: Folders, tmp_path: Path) -> None:
    assert list(examine._overlaps("small", folders, {"small": folders.drop.path})) == []
    drops = {"large": folders.root / "positives", "other": tmp_path}
    found = [(one.level, one.say) for one in examine._overlaps("small", folders, drops)]
    inside = "lies inside the drop folder of"
    assert (Level.WRONG, f"positives {inside} large: what comes out goes in again.") in found
    assert sum("of other" in say for _, say in found) == 5
    assert len(found) == 6


# --- what lies about ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("silent", "dead", "level", "say"),
    [
        (59.0, False, Level.OK, "gave its last sign of life 59 seconds ago and has 2 jobs in hand"),
        (60.0, False, Level.NOTE, "60 seconds ago"),
        (5.0, True, Level.NOTE, "5 seconds ago"),
        (None, False, Level.NOTE, "far-00000001 has never given a sign of life and has 2 jobs"),
    ],
)
def test_other_hosts(silent: float | None, level: Level, say: str, *, dead: bool) -> None:
    found = examine._other_host("small", HostSeen("far-00000001", silent, dead, ("1", "2")))
    assert (found.level, found.what, bool(found.do)) == (level, "other host", level is Level.NOTE)
    assert say in found.say


@pytest.mark.parametrize(
    ("seconds", "say"),
    [
        (0.4, "0 seconds"),
        (119, "119 seconds"),
        (120, "2 minutes"),
        (7199, "120 minutes"),
        (7200, "2 hours"),
        (172_799, "48 hours"),
        (172_800, "2 days"),
        (10**6, "12 days"),
    ],
)
def test_ages_are_told_in_units_of_which_there_are_two(seconds: float, say: str) -> None:
    assert examine._ago(seconds) == say


@pytest.mark.parametrize("running", [False, True])
def test_stuck_jobs_and_forgotten_files(
    folders: Folders, monkeypatch: pytest.MonkeyPatch, *, running: bool
) -> None:
    def findings() -> dict[str, tuple[str, str]]:
        return told(examine._lying_about("small", folders, "own-00000000", running=running))

    well = {"left over": ("ok", "Nothing is stuck and nothing forgotten.")}
    assert findings() == well
    seen = [HostSeen("own-00000000", 900.0, True, ()), HostSeen("far-00000001", 1.0, False, ())]
    monkeypatch.setattr(examine.survey, "hosts_seen", lambda folders, now: seen)
    assert set(findings()) == {"left over", "other host"}
    monkeypatch.setattr(
        examine.survey, "stuck_jobs", lambda folders, now: [("a.png", "claimed", 7200.0)]
    )
    found = findings()
    assert "left over" not in found
    assert found["job"] == (
        "wrong" if running else "note", "a.png has not moved on for 2 hours (claimed).",
    )  # fmt: skip
    monkeypatch.setattr(examine.survey, "stuck_jobs", lambda folders, now: [])
    monkeypatch.setattr(examine.survey, "old_noise", lambda folders, now: ["a.part", "b.part"])
    found = findings()
    assert "left over" not in found
    assert found["left in drop"] == (
        "note", "Unfinished for more than a day: a.part, b.part.",
    )  # fmt: skip

    def fail(folder: Beneath) -> float:
        raise OSError(errno.EIO, "broken")

    monkeypatch.setattr(examine.survey, "file_system_time", fail)
    assert findings() == {}
    folders.root.rename(folders.root.with_name("away"))
    assert findings() == {}


# --- the private folder -------------------------------------------------------------------------


def test_who_may_write_where_the_jobs_lie(folders: Folders) -> None:
    """Mode bits as chmod(1) has them: 2 is writing, the sticky bit forbids to exchange."""

    def say(hidden: int, top: int) -> tuple[str, str]:
        folders.hidden.path.chmod(hidden)
        folders.root.chmod(top)
        return told(private_folder.private_folder(folders, "small"))["private folder"]

    assert say(0o755, 0o755)[0] == "ok"
    assert say(0o755, 0o755)[1].endswith("whose it is, may write in .filmhand.")
    group = private_folder._group(folders.hidden.lstat().st_gid)
    for modes, who in (
        ((0o775, 0o755), f": the group {group} in .filmhand."),
        ((0o757, 0o755), ": everybody in .filmhand."),
        ((0o755, 0o777), f": the group {group} in small, everybody in small."),
        ((0o757, 0o1777), ": everybody in .filmhand."),
    ):
        level, text = say(*modes)
        assert level == "note" and text.endswith(who)
    assert say(0o755, 0o1777)[0] == "ok"
    assert not folders.hidden.lstat().st_mode & stat.S_IWOTH


def test_users_and_groups_that_nobody_named() -> None:
    assert private_folder._user(2**31 - 7) == f"the user {2**31 - 7}"
    assert private_folder._group(2**31 - 7) == str(2**31 - 7)


def test_what_was_set_aside_is_told_with_what_to_do(folders: Folders) -> None:
    (folders.hidden / "set-aside").mkdir()
    (folders.hidden / "set-aside" / "odd").touch()
    level, say = told(private_folder.private_folder(folders, "small"))["set aside"]
    assert level == "note" and say.endswith("now: odd.")


# --- file systems -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ahead", "level", "say"),
    [
        (0.0, Level.OK, "Files can be made, and their time is right."),
        (1.5, Level.OK, "time is right"),
        (30.0, Level.NOTE, "The file system's clock is 30 s ahead of this computer's."),
        (-30.0, Level.NOTE, "The file system's clock is 30 s behind this computer's."),
    ],
)
def test_the_clock_of_a_file_system(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, ahead: float, level: Level, say: str
) -> None:
    times = iter([1000.0, 1001.0])
    monkeypatch.setattr(folder_probe, "time", SimpleNamespace(time=lambda: next(times)))
    monkeypatch.setattr(Beneath, "lstat", lambda path: SimpleNamespace(st_mtime=1000.5 + ahead))
    found = folder_probe._create(Beneath(tmp_path))
    assert found[0] is level and say in found[1]


def test_a_file_system_that_cannot_flush(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    trial = Beneath(tmp_path)
    (trial / "file").touch()
    assert folder_probe._fsync(trial)[0] is Level.OK
    fails = [1]

    def fsync(descriptor: int) -> None:
        fails[0] -= 1
        if fails[0] == 0:
            raise OSError(errno.EINVAL, "Invalid argument")

    monkeypatch.setattr(folder_probe.os, "fsync", fsync)
    found = folder_probe._fsync(trial)
    assert found[0] is Level.WRONG and "that a file reached" in found[1]
    fails[0] = 2
    found = folder_probe._fsync(trial)
    assert found[0] is Level.NOTE and "that a folder's names reached" in found[1]


@pytest.mark.parametrize(("network", "arrive"), [(True, True), (False, True), (False, False)])
def test_events_of_a_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, *, network: bool, arrive: bool
) -> None:
    monkeypatch.setattr(folder_probe, "is_network", lambda path: network)
    monkeypatch.setattr(folder_probe, "events_arrive", lambda trial, *, within: arrive)
    level, say, do = folder_probe._events(Beneath(tmp_path))
    assert (level is Level.OK) is (arrive and not network)
    assert ("share" in say) is network
    assert bool(do) is (level is not Level.OK)


# --- clusters -----------------------------------------------------------------------------------


ANSWER = {
    "host": "mill", "filmhand": __version__, "python": "3.12", "libraries": ["a", "b"],
    "sees": True, "may_write": True,
}  # fmt: skip


@pytest.mark.parametrize(
    ("answer", "level", "say"),
    [
        (ANSWER, Level.OK, f"mill has filmhand {__version__} and Python 3.12, sees the folder and"),
        ("ImportError: x", Level.WRONG, "The worker at tcp:1 cannot load filmhand (ImportError: x"),
        ({**ANSWER, "filmhand": "0"}, Level.WRONG, f"has filmhand 0; here is {__version__}."),
        ({**ANSWER, "libraries": ["b"]}, Level.WRONG, "on mill lacks a, which is installed here."),
        ({**ANSWER, "libraries": ["a", "b", "c"]}, Level.OK, "sees the folder"),
        ({**ANSWER, "sees": False}, Level.WRONG, "does not see this profile's folder."),
        ({**ANSWER, "may_write": False}, Level.WRONG, "has no right to write in this profile's"),
    ],
)
def test_what_a_worker_of_a_cluster_says(
    monkeypatch: pytest.MonkeyPatch, answer: Any, level: Level, say: str
) -> None:
    monkeypatch.setattr(of_clusters, "installed", lambda: ["a", "b"])
    found = of_clusters._worker("small", "tcp:1", answer)
    assert (found.level, found.where, found.what) == (level, "small", "cluster worker")
    assert say in found.say
    assert bool(found.do) is (level is Level.WRONG)


class Cluster:
    answers: Any = None
    closed = 0

    def __init__(self, address: str) -> None:
        self.address = address

    def ask_all(self, folder: Path, token: str) -> Any:
        assert (folder / "here").read_text() == token and len(token) == 32
        if isinstance(self.answers, Exception):
            raise self.answers
        return self.answers

    def close(self) -> None:
        type(self).closed += 1


@pytest.mark.parametrize(
    ("answers", "found"),
    [
        ({"b": ANSWER}, [("ok", "dask://a:1 answers and has 1 worker."), ("ok", "worker at b")]),
        ({"b": "x", "a": ANSWER},
         [("ok", "dask://a:1 answers and has 2 workers."), ("ok", "at a"), ("wrong", "at b")]),
        (EnvironmentTrouble("Nobody answers."), [("wrong", "Nobody answers.")]),
        (OSError(errno.EIO, "broken"), []),
    ],
)  # fmt: skip
def test_a_cluster(
    folders: Folders, monkeypatch: pytest.MonkeyPatch, answers: Any, found: list[tuple[str, str]]
) -> None:
    monkeypatch.setattr(of_clusters, "installed", list)
    monkeypatch.setattr(of_clusters, "Cluster", Cluster)
    monkeypatch.setattr(Cluster, "answers", answers)
    monkeypatch.setattr(Cluster, "closed", 0)
    before = folders.hidden.names()
    all_of_it = list(of_clusters.examine_cluster("small", "dask://a:1", folders))
    assert len(all_of_it) == len(found)
    for one, (level, say) in zip(all_of_it, found, strict=True):
        assert one.level.value == level and say in one.say
        assert (one.where, one.what.split()[0]) == ("small", "cluster")
    assert Cluster.closed == 1
    assert folders.hidden.names() == before


def test_a_cluster_that_does_not_come_to_an_answer(
    folders: Folders, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(of_clusters, "Cluster", Cluster)
    monkeypatch.setattr(of_clusters.BackgroundCall, "start", lambda call, ask: True)
    monkeypatch.setattr(of_clusters.BackgroundCall, "wait", lambda call, seconds: None)
    found = told(of_clusters.examine_cluster("small", "dask://a:1", folders))
    assert found == {"cluster": ("wrong", "A worker of dask://a:1 has not answered for 30 s.")}
    folders.root.rename(folders.root.with_name("away"))
    found = told(of_clusters.examine_cluster("small", "dask://a:1", folders))
    assert found["cluster"][0] == "note"


# --- how it is told -----------------------------------------------------------------------------


@pytest.mark.parametrize(("where", "shown"), [(Examined.STATION, "station"), ("a4", "a4")])
def test_a_finding_has_words_for_programs_and_a_sentence_for_people(where: str, shown: str) -> None:
    found = Finding(Level.NOTE, where, Topic.MARK, "It is empty.")
    assert found.told() == f"{shown}, mark: It is empty."
    assert json.dumps(found.as_dict()) == json.dumps(
        {"level": "note", "where": shown, "what": "mark", "say": "It is empty.", "do": None}
    )
