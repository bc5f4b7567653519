from __future__ import annotations

import os
import socket
from pathlib import Path

import pytest

from filmhand.disk.beneath import Beneath, as_beneath
from filmhand.intake.scan import DEPTH, scan_drop_folder


def test_art_with_its_ticket_and_mask(tmp_path: Path) -> None:
    for name in ("a.png", "a.png.ticket.yaml", "a.png.clear.png", "b.png", "c.png.ticket.yaml"):
        (tmp_path / name).write_bytes(b"x")
    found = {bundle.shown: bundle for bundle in scan_drop_folder(as_beneath(tmp_path)).bundles}
    assert set(found) == {"a.png", "b.png", "c.png.ticket.yaml"}
    assert [one.name for one in found["a.png"].companions()] == [
        "a.png.ticket.yaml",
        "a.png.clear.png",
    ]
    assert found["b.png"].companions() == []
    assert found["c.png.ticket.yaml"].alone == "ticket"


def test_a_ticket_or_mask_without_the_arts_ending_is_told_to_the_art(tmp_path: Path) -> None:
    files = (
        "a.png", "a.ticket.txt",
        "b.png", "b.clear.png",
        "c.png", "c.jpg", "c.ticket.yaml",  # which of the two is meant cannot be known
        "d.png", "d.png.ticket.yaml", "d.ticket.yaml",  # the art has its own
        "e", "e.png", "e.ticket.yaml",  # belongs to e
    )  # fmt: skip
    for name in files:
        (tmp_path / name).write_bytes(b"x")
    found = {bundle.shown: bundle for bundle in scan_drop_folder(as_beneath(tmp_path)).bundles}
    told = {name: bundle.misnamed for name, bundle in found.items() if bundle.misnamed}
    assert told == {"a.png": "a.ticket.txt", "b.png": "b.clear.png"}
    assert found["a.ticket.txt"].alone == "ticket"
    assert found["e"].companions()


def test_a_ticket_belongs_only_to_art_in_its_own_folder(tmp_path: Path) -> None:
    (tmp_path / "sub").mkdir()
    (tmp_path / "a.png").write_bytes(b"x")
    (tmp_path / "sub" / "a.png.ticket.yaml").write_bytes(b"x")
    alone = [
        bundle.shown for bundle in scan_drop_folder(as_beneath(tmp_path)).bundles if bundle.alone
    ]
    assert alone == ["sub/a.png.ticket.yaml"]


def test_links_pipes_and_sockets_are_named_and_left_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)  # the path of a socket may have 107 bytes (unix(7))
    (tmp_path / "link.png").symlink_to("/etc/passwd")
    (tmp_path / "folder link").symlink_to(tmp_path)
    os.mkfifo(tmp_path / "pipe.png")
    with socket.socket(socket.AF_UNIX) as channel:
        channel.bind("socket.png")
        seen = scan_drop_folder(as_beneath(tmp_path))
    assert seen.bundles == []
    assert {name for name, _ in seen.left_alone} == {
        "link.png",
        "folder link",
        "pipe.png",
        "socket.png",
    }


def test_noise_is_counted(tmp_path: Path) -> None:
    (tmp_path / ".DS_Store").write_bytes(b"x")
    (tmp_path / "a.png.part").write_bytes(b"x")
    (tmp_path / "@eaDir").mkdir()
    (tmp_path / "@eaDir" / "a.png").write_bytes(b"x")
    seen = scan_drop_folder(as_beneath(tmp_path))
    assert (seen.bundles, seen.noise) == ([], 3)


def test_sub_folders(tmp_path: Path) -> None:
    deep = tmp_path / "class 4" / "tuesday"
    deep.mkdir(parents=True)
    (deep / "a.png").write_bytes(b"x")
    (tmp_path / "empty").mkdir()
    seen = scan_drop_folder(as_beneath(tmp_path))
    assert [bundle.art.sub for bundle in seen.bundles] == [("class 4", "tuesday")]
    assert seen.empty_folders == [as_beneath(tmp_path) / "empty"]


def test_folders_too_deep_are_named(tmp_path: Path) -> None:
    folder = tmp_path.joinpath(*"abcdefghijklmnop"[: DEPTH + 1])
    folder.mkdir(parents=True)
    (folder / "a.png").write_bytes(b"x")
    seen = scan_drop_folder(as_beneath(tmp_path))
    assert seen.bundles == []
    assert "too deep" in seen.left_alone[0][1]


def test_names_that_are_not_utf_8(tmp_path: Path) -> None:
    (tmp_path / os.fsdecode(b"caf\xe9.png")).write_bytes(b"x")
    bundle = scan_drop_folder(as_beneath(tmp_path)).bundles[0]
    assert os.fsencode(bundle.art.name) == b"caf\xe9.png"
    assert bundle.shown == "caf\ufffd.png"


def test_a_ticket_in_other_capitals_or_unicode_form_belongs_to_its_art(tmp_path: Path) -> None:
    composed, decomposed = "caf\u00e9.jpg", "CAFE\u0301.JPG"
    for name in (composed, f"{decomposed}.ticket.yaml", f"{decomposed}.Clear.PNG"):
        (tmp_path / name).write_bytes(b"x")
    (bundle,) = scan_drop_folder(as_beneath(tmp_path)).bundles
    assert bundle.art.name == composed
    assert {one.name for one in bundle.companions()} == {
        f"{decomposed}.ticket.yaml",
        f"{decomposed}.Clear.PNG",
    }


@pytest.mark.parametrize("backwards", [False, True])
def test_the_exact_name_comes_before_one_in_other_capitals(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, *, backwards: bool
) -> None:
    """In whatever order the system tells the names."""
    scan = Beneath.scan
    monkeypatch.setattr(Beneath, "scan", lambda folder: sorted(scan(folder), reverse=backwards))
    for name in ("A.png", "a.png", "a.png.ticket.yaml", "b.png", "B.png.ticket.yaml",
                 "b.png.ticket.yaml"):  # fmt: skip
        (tmp_path / name).write_bytes(b"x")
    found = {bundle.shown: bundle for bundle in scan_drop_folder(as_beneath(tmp_path)).bundles}
    assert [one.name for one in found["a.png"].companions()] == ["a.png.ticket.yaml"]
    assert found["A.png"].companions() == []
    assert [one.name for one in found["b.png"].companions()] == ["b.png.ticket.yaml"]
    assert found["B.png.ticket.yaml"].alone == "ticket"


def test_a_ticket_that_fits_two_arts_is_told_to_both(tmp_path: Path) -> None:
    for name in ("Logo.png", "logo.png", "LOGO.png.ticket.yaml"):
        (tmp_path / name).write_bytes(b"x")
    found = {bundle.shown: bundle for bundle in scan_drop_folder(as_beneath(tmp_path)).bundles}
    assert found["Logo.png"].misnamed == found["logo.png"].misnamed == "LOGO.png.ticket.yaml"
    assert found["LOGO.png.ticket.yaml"].alone == "ticket"
