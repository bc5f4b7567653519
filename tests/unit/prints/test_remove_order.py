"""An order that has ended is removed, whatever lies in its folder."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

from filmhand.disk.folders import Folders
from filmhand.prints.steps import remove_order


def test_a_folder_in_the_place_of_a_document_is_set_aside(tmp_path: Path) -> None:
    folders = Folders(tmp_path / "small")
    folders.make()
    folder = folders.hidden / "order"
    folder.mkdir()
    (folder.path / "film.pdf").mkdir()
    (folder.path / "film.pwg").symlink_to(tmp_path)
    (folder.path / "order.json").write_bytes(b"{}")
    documents = {name: SimpleNamespace(name=f"film.{name}") for name in ("pdf", "pwg")}
    order, context = SimpleNamespace(folder=folder, documents=documents), SimpleNamespace()
    context.folders = folders
    remove_order(cast("Any", order), cast("Any", context))
    assert not folder.exists()
    assert (folders.hidden.path / "set-aside" / "film.pdf").is_dir()
