"""Places beneath a trusted folder: no link on the way or at the end leads out."""

from __future__ import annotations

import errno
import os
import random
import socket
import stat
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from filmhand.disk import atomic, set_aside
from filmhand.disk.beneath import DEEPEST_FOLDERS, IRREGULAR, Beneath, as_beneath, is_single
from filmhand.disk.folders import Folders
from filmhand.errors import EnvironmentTrouble


@pytest.fixture
def top(tmp_path: Path) -> Beneath:
    (tmp_path / "top").mkdir()
    (tmp_path / "outside" / "folder").mkdir(parents=True)
    (tmp_path / "outside" / "secret").write_bytes(b"secret")
    (tmp_path / "outside" / "folder" / "file").write_bytes(b"file")
    return Beneath(tmp_path / "top")


@pytest.mark.parametrize("name", ["", ".", "..", "a/b", "/", "/etc", "a\0", "\ud800", None, 3])
def test_what_is_no_single_name(top: Beneath, name: Any) -> None:
    assert not is_single(name)
    for make in (lambda: top / name, lambda: top.joinpath("a", name)):
        with pytest.raises(ValueError, match="not the name of one thing"):
            make()
    with pytest.raises(ValueError, match="not the name of one thing"):
        Beneath(top.root, (name,))


@pytest.mark.parametrize("name", ["a", " ", "...", "~", "-rf", "\n", os.fsdecode(b"\xff"), "C:\\x"])
def test_odd_names_are_names(top: Beneath, name: str) -> None:
    (top / name).touch()
    assert top.names() == [name]
    assert (top / name).name == name


def test_names_and_order(top: Beneath) -> None:
    path = top / "a" / "b.pdf"
    assert (path.parent, path.suffix, path.with_name("c")) == (top / "a", ".pdf", top / "a" / "c")
    assert path.path == top.root / "a" / "b.pdf" == Path(str(path))
    assert path.names_below(top) == ("a", "b.pdf")
    assert path.names_below(path) == ()
    assert {path, top.joinpath("a", "b.pdf")} == {path}
    assert sorted([top / "b", top / "a" / "z", top / "a"]) == [
        top / "a",
        top / "a" / "z",
        top / "b",
    ]
    for other in (top / "b", Beneath(top.root.parent)):
        with pytest.raises(ValueError, match="not below"):
            path.names_below(other)
    with pytest.raises(ValueError, match="none of filmhand's business"):
        _ = top.parent
    assert as_beneath(top) is top
    assert as_beneath(top.root / "a") == top / "a"


Do = Callable[[Beneath], Any]
# What may be done with a place; `None` where a link in its place is looked at, not followed.
DEEDS: dict[str, Do] = {
    "open": lambda path: path.open(),
    "read": lambda path: path.read_bytes(10),
    "new": lambda path: path.open_new(),
    "descriptor": lambda path: path.open_descriptor(os.O_RDWR | os.O_CREAT),
    "names": lambda path: path.names(),
    "scan": lambda path: path.scan(),
    "mkdir": lambda path: path.mkdir(exist_ok=True),
    "rmtree": lambda path: path.rmtree(),
    "rmdir": lambda path: path.rmdir(),
    "open_folder": lambda path: path.open_folder(),
}


@pytest.mark.parametrize("deed", DEEDS)
@pytest.mark.parametrize(
    "to", ["../outside/folder", "../outside/secret", "../outside/nothing", "."]
)
def test_a_link_in_the_place_itself_is_not_followed(top: Beneath, deed: str, to: str) -> None:
    (top / "link").path.symlink_to(to)
    before = everything(top.root.parent)
    with pytest.raises(OSError) as caught:
        DEEDS[deed](top / "link")
    assert caught.value.errno in {*IRREGULAR, errno.EEXIST}
    assert str(top / "link") in str(caught.value)
    assert everything(top.root.parent) == before


@pytest.mark.parametrize("deed", [*DEEDS, "lstat", "unlink", "utime", "touch"])
def test_a_link_on_the_way_is_not_followed(top: Beneath, deed: str) -> None:
    (top / "link").path.symlink_to("../outside")
    before = everything(top.root.parent)
    for name in ("secret", "folder", "nothing"):
        path = top / "link" / name
        do = DEEDS.get(deed) or (lambda path: getattr(path, deed)(*[(0, 0)] * (deed == "utime")))
        with pytest.raises(NotADirectoryError):
            do(path)
        assert not (path.exists() or path.is_dir() or path.is_file())
        for move in (
            lambda path=path: atomic.rename_durably(path, top / "fetched"),
            lambda path=path: atomic.move_no_replace(path, top / "fetched"),
            lambda path=path: atomic.publish_no_replace(path, top / "fetched"),
            lambda path=path: atomic.write_atomic(path, b"x"),
            lambda path=path: atomic.append_line(path, b"x", aside=top / "aside"),
            lambda path=path: atomic.unlink_expired(path),
        ):
            with pytest.raises(NotADirectoryError):
                move()
    assert everything(top.root.parent) == before


def everything(folder: Path) -> dict[str, tuple[int, int, int]]:
    return {
        str(path): (found.st_mode, found.st_ctime_ns, found.st_size)
        for path in (folder / "outside", *(folder / "outside").rglob("*"))
        if (found := path.lstat())
    }


def test_links_are_looked_at_and_removed_themselves(top: Beneath) -> None:
    link = top / "link"
    link.path.symlink_to("../outside/secret")
    assert link.exists() and not link.is_file() and not link.is_dir()
    assert stat.S_ISLNK(link.lstat().st_mode)
    (name, seen), = top.scan()  # fmt: skip
    assert name == "link" and stat.S_ISLNK(seen.st_mode)
    assert list(top.walk()) == [(top, [], ["link"])]
    link.unlink()
    link.unlink(missing_ok=True)
    with pytest.raises(FileNotFoundError):
        link.unlink()
    assert (top.root.parent / "outside" / "secret").read_bytes() == b"secret"


def _socket(path: Path) -> None:
    with socket.socket(socket.AF_UNIX) as made:
        made.bind(str(path))


@pytest.mark.parametrize("make", [os.mkfifo, Path.mkdir, _socket])
def test_what_is_no_file_neither_hangs_nor_is_read(
    top: Beneath, make: Callable[[Path], Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(top.root)  # a socket's path may not be long
    make(Path("odd"))
    for deed in ("open", "read"):
        with pytest.raises(OSError) as caught:
            DEEDS[deed](top / "odd")
        assert caught.value.errno in IRREGULAR


def test_reading_has_a_ceiling(top: Beneath) -> None:
    (top / "a").path.write_bytes(b"12345")
    assert (top / "a").read_bytes(5) == b"12345"
    with pytest.raises(ValueError, match="more than 4 bytes"):
        (top / "a").read_bytes(4)
    with (top / "b").open_new() as file:
        file.write(b"x")
    for taken in ("a", "b"):
        with pytest.raises(FileExistsError):
            (top / taken).open_new()


def test_folders_are_made_and_never_through_a_link(top: Beneath) -> None:
    (top / "a" / "b" / "c").mkdir(parents=True)
    (top / "a" / "b" / "c").mkdir(exist_ok=True)
    with pytest.raises(FileExistsError):
        (top / "a").mkdir()
    with pytest.raises(FileNotFoundError):
        (top / "x" / "y").mkdir()
    (top / "link").path.symlink_to("a")
    with pytest.raises(FileExistsError):
        (top / "link").mkdir(exist_ok=True)
    with pytest.raises(NotADirectoryError):
        (top / "link" / "y").mkdir(parents=True)
    with pytest.raises(FileNotFoundError):
        (Beneath(top.root / "gone") / "a").mkdir(parents=True)
    top.mkdir(exist_ok=True)
    assert sorted(top.names()) == ["a", "link"]


def test_folders_on_the_way_are_made_only_within_one_that_is_there(top: Beneath) -> None:
    within = top / "a"
    for deep in (within / "b", within / "b" / "c"):
        with pytest.raises(FileNotFoundError):
            deep.mkdir(parents=True, within=within)
    assert list(top.names()) == []
    within.mkdir()
    (within / "b" / "c").mkdir(parents=True, within=within)
    (within / "d").mkdir(parents=True, within=within)
    assert sorted(within.names()) == ["b", "d"]


def test_the_trusted_folder_itself_may_be_a_link(top: Beneath) -> None:
    (top.root.parent / "way").symlink_to("top")
    way = Beneath(top.root.parent / "way")
    (way / "a").mkdir()
    assert top.names() == way.names() == ["a"]


def test_a_tree_is_removed_without_what_its_links_lead_to(top: Beneath) -> None:
    (top / "a" / "b").mkdir(parents=True)
    (top / "a" / "out").path.symlink_to("../../outside/folder")
    (top / "a" / "b" / "up").path.symlink_to("../../..")
    (top / "a" / "b" / "file").touch()
    before = everything(top.root.parent)
    (top / "a").rmtree()
    assert top.names() == []
    assert everything(top.root.parent) == before
    (top / "gone").rmtree(ignore_errors=True)
    with pytest.raises(FileNotFoundError):
        (top / "gone").rmtree()


def test_folders_deep_in_each_other_are_left_and_end_no_walk(top: Beneath) -> None:
    deep = top.joinpath(*["d"] * (DEEPEST_FOLDERS + 3))
    deep.mkdir(parents=True)
    (deep / "file").touch()
    assert DEEPEST_FOLDERS == 40  # people's have at most a dozen
    assert max(len(folder.parts) for folder, _, _ in top.walk()) == DEEPEST_FOLDERS
    with pytest.raises(OSError, match="too many folders") as caught:
        (top / "d").rmtree()
    assert caught.value.errno == errno.ELOOP
    (top / "d").rmtree(ignore_errors=True)
    assert (deep / "file").exists()


def test_folders_up_to_forty_deep_are_removed(top: Beneath) -> None:
    top.joinpath(*["d"] * 40).mkdir(parents=True)
    (top / "d").rmtree()
    assert top.names() == []


def test_a_walk_leaves_out_what_the_caller_takes_out_and_tells_of_trouble(top: Beneath) -> None:
    for name in ("a", "b"):
        (top / name / "in").mkdir(parents=True)
    seen = []
    for folder, inside, _ in top.walk():
        inside[:] = [name for name in inside if name != "a"]
        seen.append("/".join(folder.names_below(top)))
    assert seen == ["", "b", "b/in"]
    told: list[OSError] = []
    assert list((top / "gone").walk(told.append)) == []
    assert isinstance(told[0], FileNotFoundError)


def test_descriptors_are_closed_whatever_happens(top: Beneath) -> None:
    (top / "link").path.symlink_to("../outside")
    (top / "a" / "b").mkdir(parents=True)
    before = len(list(Path("/proc/self/fd").iterdir()))
    for path in (top / "link" / "x", top / "a" / "b", top / "gone" / "x", top / "a" / "gone"):
        for do in (*DEEDS.values(), Beneath.lstat, Beneath.unlink, lambda p: list(p.walk())):
            if do is DEEDS["rmtree"] or do is DEEDS["rmdir"] or do is DEEDS["mkdir"]:
                continue
            try:
                made = do(path)
            except OSError:
                continue
            if isinstance(made, int):
                os.close(made)
            elif hasattr(made, "close"):
                made.close()
            path.unlink(missing_ok=True) if path.is_file() else None
    assert len(list(Path("/proc/self/fd").iterdir())) == before


def test_a_folder_exchanged_for_a_link_all_the_time_never_leads_out(top: Beneath) -> None:
    """Somebody renames folder and link to and fro while files are made, moved and removed."""
    place, real, trap = top / "place", top.root / "real", top.root / "trap"
    real.mkdir()
    trap.symlink_to("../outside/folder")
    before = everything(top.root.parent)
    stop = threading.Event()

    pauses = random.Random(7)

    def exchange() -> None:
        while not stop.is_set():
            for other in (real, trap):
                other.rename(place.path)
                # Now and then it stays for a moment, so that something is done on any machine.
                time.sleep(pauses.choice((0.0, 0.0, 0.0, 0.001)))
                place.path.rename(other)

    thread = threading.Thread(target=exchange)
    thread.start()
    try:
        done = failed = 0
        while done < 300 and failed < 2_000_000:
            for do in (
                lambda: atomic.write_atomic(place / "file", b"x", durable=False),
                lambda: atomic.append_line(place / "log", b"line", aside=top / "aside"),
                lambda: atomic.rename_durably(place / "file", place / "other"),
                lambda: (place / "sub").mkdir(exist_ok=True),
                (place / "sub").rmtree,
                (place / "other").unlink,
                place.names,
            ):
                try:
                    do()
                    done += 1
                except OSError:
                    failed += 1
    finally:
        stop.set()
        thread.join()
    assert done >= 300
    assert everything(top.root.parent) == before


# --- what is written by atomic, and the folders --------------------------------------------------


@pytest.mark.parametrize("kind", ["link", "link to nothing", "pipe", "folder"])
def test_unfinished_forms_that_are_there_are_replaced_not_opened(top: Beneath, kind: str) -> None:
    fresh = top / ".job.json.new"
    trap(fresh.path, kind)
    before = everything(top.root.parent)
    atomic.write_atomic(top / "job.json", b"own")
    assert (top / "job.json").read_bytes(9) == b"own"
    assert not fresh.exists()
    assert everything(top.root.parent) == before
    assert len(top.names()) == (2 if kind == "folder" else 1)  # it got another name


@pytest.mark.parametrize("kind", ["link", "link to nothing", "pipe", "folder"])
def test_what_is_in_the_place_of_a_file_of_ours_is_replaced(top: Beneath, kind: str) -> None:
    trap((top / "alive").path, kind)
    before = everything(top.root.parent)
    atomic.write_atomic(top / "alive", b"own")
    assert (top / "alive").read_bytes(9) == b"own"
    assert everything(top.root.parent) == before


@pytest.mark.parametrize("kind", ["link", "link to nothing", "pipe", "folder", "second name"])
def test_a_log_is_never_appended_to_through_something_else(top: Beneath, kind: str) -> None:
    log = top / "rejections.jsonl"
    trap(log.path, kind)
    secret = top.root.parent / "outside" / "secret"
    for line in (b"one", b"two"):
        atomic.append_line(log, line, aside=top / "aside")
    assert log.read_bytes(99) == b"one\ntwo\n"
    assert secret.read_bytes() == b"secret"
    assert (top / "aside").names() == ["rejections.jsonl"]


def trap(path: Path, kind: str) -> None:
    secret = path.parents[1] / "outside" / "secret"
    if kind == "link":
        path.symlink_to(secret)
    elif kind == "link to nothing":
        path.symlink_to(secret.with_name("made by somebody else"))
    elif kind == "pipe":
        os.mkfifo(path)
    elif kind == "second name":
        os.link(secret, path)
    else:
        path.mkdir()


@pytest.mark.parametrize("kind", ["drop", "positives", ".filmhand", "rejected"])
def test_a_profiles_folders_may_be_no_links(tmp_path: Path, kind: str) -> None:
    folders = Folders(tmp_path / "small")
    (tmp_path / "outside").mkdir()
    folders.root.mkdir()
    (folders.root / kind).symlink_to(tmp_path / "outside")
    with pytest.raises(EnvironmentTrouble, match=r"is a link or a file.*`folder:` in the profile"):
        folders.ensure(there=lambda: True)
    assert list((tmp_path / "outside").iterdir()) == []
    assert not folders.are_real()


def test_a_profile_in_the_station_may_be_no_link_and_one_elsewhere_may(tmp_path: Path) -> None:
    (tmp_path / "outside").mkdir()
    (tmp_path / "small").symlink_to("outside")
    with pytest.raises(EnvironmentTrouble, match="name the real one with `folder:`"):
        Folders(tmp_path / "small").ensure(there=lambda: True)
    assert list((tmp_path / "outside").iterdir()) == []
    elsewhere = Folders(tmp_path / "small", elsewhere=True)
    elsewhere.make()
    assert elsewhere.present() and elsewhere.are_real()


def test_the_private_folder_is_the_services_own(tmp_path: Path) -> None:
    before = os.umask(0)
    try:
        Folders(tmp_path / "small").make()
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "small" / ".filmhand").stat().st_mode) == 0o700


def test_a_link_is_set_aside_as_a_link(top: Beneath) -> None:
    (top / "link").path.symlink_to("../outside")
    before = everything(top.root.parent)
    assert set_aside.set_aside(top / "link", top) == "link"
    assert (top / "set-aside" / "link").path.is_symlink()
    ((said, _),) = set_aside.worries(top)
    assert "link" in said and str(top / "set-aside") in said
    assert everything(top.root.parent) == before


def test_the_trusted_folder_itself_is_never_made(tmp_path: Path) -> None:
    Beneath(tmp_path).mkdir()
    gone = Beneath(tmp_path / "gone")
    for place in (gone, gone / "a", gone / "a" / "b"):
        with pytest.raises(FileNotFoundError):
            place.mkdir(parents=True, exist_ok=True)
    assert list(tmp_path.iterdir()) == []
