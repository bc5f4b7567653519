"""A profile folder in which so many jobs were finished before, as tiny files that look alike."""

from __future__ import annotations

import hashlib
import json
import os
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from filmhand.disk.folders import Folders
from filmhand.jobs.job import utc_text

REFUSED = 10  # each so-manieth was refused
_BEGAN = datetime(2025, 1, 6, 8, tzinfo=UTC)
_FILLER = {f"fact {number}": "as long as a real record" for number in range(60)}  # some 2.5 kB


def content(number: int) -> bytes:
    """The art of a job."""
    return b"art %d" % number


def shown(number: int) -> str:
    """The art's name, with its sub-folder."""
    return f"class {number // 1000}/motif {number}.png"


def finish(root: Path, count: int) -> None:
    """As if `count` jobs had been done, a minute apart, the last of them refused or not."""
    folders = Folders(root)
    folders.make()
    lines: list[str] = []
    for number in range(count):
        at = _BEGAN + timedelta(minutes=number)
        sub, name = shown(number).split("/")
        facts = {"job": f"{at:%Y%m%dT%H%M%S}-{number:08x}", "at": utc_text(at)}
        digest = hashlib.sha256(content(number)).hexdigest()
        if number % REFUSED == REFUSED - 1:
            lines.append(json.dumps(_refusal(facts, shown(number), digest)))
            _write(folders.rejected.path / sub / name, content(number), at)
            continue
        stem = name.removesuffix(".png")
        record = facts | {
            "schema": "filmhand-record/1",
            "film": {"files": {"pdf": f"{stem}.pdf"}, "sha256": {"pdf": digest}},
            "source": {"name": name, "sha256": digest},
            "earlier": None,
            "filler": _FILLER,
        }
        _write(folders.originals.path / sub / name, content(number), at)
        _write(folders.output("proofs").path / sub / f"{stem}.jpg", b"proof", at)
        _write(folders.output("positives").path / sub / f"{stem}.pdf", b"film", at)
        _write(
            folders.output("records").path / sub / f"{stem}.json", json.dumps(record).encode(), at
        )
    log = folders.rejected.path / "rejections.jsonl"
    log.write_text("".join(f"{line}\n" for line in lines))


def _refusal(facts: dict[str, str], name: str, digest: str) -> dict[str, Any]:
    return facts | {
        "schema": "filmhand-refusal/1",
        "name": name,
        "kept": name,
        "sha256": digest,
        "reason": "blank",
        "say": "It is blank.",
        "do": "Send another.",
        "found": None,
        "needed": None,
    }


def _write(path: Path, data: bytes, at: datetime) -> None:
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(data)
    os.utime(path, (at.timestamp(), at.timestamp()))
