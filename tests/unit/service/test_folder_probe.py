"""What `doctor` finds out about a folder, with real folders and real file systems."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

import pytest

from filmhand.disk import atomic
from filmhand.disk.folders import Folders
from filmhand.peers import survey
from filmhand.service.doctor import folder_probe
from filmhand.service.doctor.doctor_words import Level
from filmhand.service.doctor.folder_probe import Finding


@pytest.fixture
def folders(tmp_path: Path) -> Folders:
    made = Folders(tmp_path / "small")
    made.make()
    return made


def everything(root: Path) -> dict[str, bytes | None]:
    return {
        str(path.relative_to(root)): path.read_bytes() if path.is_file() else None
        for path in root.rglob("*")
    }


def found(findings: list[Finding], what: str) -> Finding:
    (one,) = [one for one in findings if one.what == what]
    return one


def test_a_good_folder_is_ok_and_nothing_is_left_behind(folders: Folders) -> None:
    before = everything(folders.root)
    findings = list(folder_probe.probe(folders, "small"))
    whats = ["files", "fsync", "rename", "names", "links", "writers", "space", "events"]
    assert [one.what for one in findings] == [*whats, "one file system", "rights"]
    for what in ("files", "fsync", "rename", "one file system", "rights"):
        assert found(findings, what).level is Level.OK
    assert everything(folders.root) == before


@pytest.mark.parametrize(
    ("writer", "powers", "level", "say"),
    [
        ([True, False], True, Level.OK, "whoever owns it"),
        ([True, False], False, Level.NOTE, "art that others own rests 3 times the settle time"),
        ([None, None], True, Level.NOTE, "all art rests 3 times the settle time"),
    ],
)
def test_whose_writers_can_be_seen(
    folders: Folders,
    monkeypatch: pytest.MonkeyPatch,
    writer: list[bool | None],
    *,
    powers: bool,
    level: Level,
    say: str,
) -> None:
    monkeypatch.setattr(folder_probe, "has_writer", lambda path: writer.pop(0))
    monkeypatch.setattr(folder_probe, "sees_all_writers", lambda: powers)
    one = found(list(folder_probe.probe(folders, "small")), "writers")
    assert one.level is level and say in one.say
    assert (one.do is None) == (level is Level.OK)


def test_an_output_folder_that_is_a_link_is_wrong_wherever_it_leads(
    folders: Folders, tmp_path: Path
) -> None:
    (tmp_path / "elsewhere").mkdir()
    (folders.root / "proofs").rmdir()
    (folders.root / "proofs").symlink_to(tmp_path / "elsewhere")
    one = found(list(folder_probe.probe(folders, "small")), "rights")
    assert one.level is Level.WRONG
    assert "cannot write in proofs: a link or a file is in its place" in one.say
    assert list((tmp_path / "elsewhere").iterdir()) == []


@pytest.mark.skipif(os.geteuid() != 0, reason="needs root, to mount a folder onto another")
def test_a_bind_mount_is_another_file_system_though_the_device_is_the_same(
    folders: Folders, tmp_path: Path
) -> None:
    (tmp_path / "other").mkdir()
    place = folders.root / "originals"
    mount = subprocess.run(
        ["mount", "--bind", tmp_path / "other", place], capture_output=True, check=False
    )
    if mount.returncode:
        pytest.skip(f"cannot mount here: {mount.stderr.decode().strip()}")
    try:
        assert place.stat().st_dev == folders.root.stat().st_dev
        one = found(list(folder_probe.probe(folders, "small")), "one file system")
        assert one.level is Level.WRONG and "originals" in one.say
    finally:
        subprocess.run(["umount", place], check=True)


def test_what_lies_together_is_told_without_renaming(folders: Folders) -> None:
    file = folders.hidden / "file"
    file.path.write_bytes(b"x")
    assert atomic.on_same_mount(file, folders.drop)
    assert file.read_bytes(1) == b"x"
    assert list(folders.drop.iterdir()) == []


def test_a_file_in_the_place_of_a_folder(folders: Folders) -> None:
    (folders.root / "proofs").rmdir()
    (folders.root / "proofs").write_text("in the way")
    one = found(list(folder_probe.probe(folders, "small")), "rights")
    assert one.level is Level.WRONG and "proofs" in one.say


@pytest.mark.skipif(os.geteuid() != 0, reason="needs root, to try as another user")
def test_missing_rights_are_told_for_each_folder() -> None:
    nobody = 65534
    with tempfile.TemporaryDirectory() as place:  # pytest's own is for its user alone
        Path(place).chmod(0o755)
        folders = Folders(Path(place) / "small")
        folders.make()
        for path in (folders.root, *folders.root.rglob("*")):
            shutil.chown(path, nobody)
        shutil.chown(folders.output("originals").path, 0)
        folders.output("proofs").path.chmod(0o500)
        os.seteuid(nobody)
        try:
            findings = list(folder_probe.probe(folders, "small"))
        finally:
            os.seteuid(0)
        said = [one.say for one in findings if one.what == "rights"]
        assert len(said) == 2
        assert "originals" in said[1] and "proofs" in said[0]
        assert all(one.level is Level.OK for one in findings if one.what in {"files", "rename"})


def test_a_system_that_replaces_in_spite_of_its_promise_is_wrong(
    folders: Folders, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(atomic, "rename_no_replace", lambda source, target: True)
    one = found(list(folder_probe.probe(folders, "small")), "names")
    assert one.level is Level.WRONG


@pytest.mark.parametrize("links", [True, False])
def test_a_system_without_such_a_rename(
    folders: Folders, monkeypatch: pytest.MonkeyPatch, links: bool
) -> None:
    monkeypatch.setattr(atomic, "rename_no_replace", lambda source, target: False)
    monkeypatch.setattr(atomic, "try_hard_link", lambda source, target: links)
    findings = list(folder_probe.probe(folders, "small"))
    assert found(findings, "names").level is (Level.OK if links else Level.NOTE)
    assert found(findings, "links").level is (Level.OK if links else Level.NOTE)


def test_a_folder_that_takes_nothing(folders: Folders, monkeypatch: pytest.MonkeyPatch) -> None:
    shutil.rmtree(folders.hidden.path)
    findings = list(folder_probe.probe(folders, "small"))
    assert found(findings[:1], "rights").level is Level.WRONG


def test_ages_of_hosts_jobs_and_noise_are_the_file_systems_own(folders: Folders) -> None:
    now = survey.file_system_time(folders.hidden)
    other = folders.hidden.path / "other-0000000a"
    (other / "20260301T100000-00000001").mkdir(parents=True)
    (other / "alive").write_bytes(b"{}")
    os.utime(other / "alive", (now - 500, now - 500))
    os.utime(other / "20260301T100000-00000001", (now - 7200, now - 7200))
    for name, age in (("a.png.part", 90_000), ("b.part", 100), (".DS_Store", 90_000)):
        (folders.drop.path / name).write_bytes(b"x")
        os.utime(folders.drop.path / name, (now - age, now - age))
    (seen,) = survey.hosts_seen(folders, now)
    assert seen.silent == pytest.approx(500, abs=1)
    assert seen.jobs == ("20260301T100000-00000001",)
    ((name, state, age),) = survey.stuck_jobs(folders, now)
    assert (name, state) == ("20260301T100000-00000001", "without notes")
    assert age == pytest.approx(7200, abs=1)
    assert survey.old_noise(folders, now) == ["a.png.part"]
    assert survey.jobs_in_hand(folders) == {"20260301T100000-00000001"}
