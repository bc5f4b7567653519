"""The soak of tests/soak, for a short while; and that its count sees what is wrong."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest

SOAK = Path(__file__).parents[1] / "soak"
sys.path.append(str(SOAK))
import audit as soak_audit  # noqa: E402
from faults import LITTER, SECRET, Canaries  # noqa: E402

MINUTES = "2" if os.environ.get("CI") else "0.33"


@pytest.mark.slow
def test_two_hosts_under_fire_lose_double_and_break_nothing() -> None:
    done = subprocess.run(
        [sys.executable, str(SOAK / "soak.py"), "--minutes", MINUTES, "--seed", "7"],
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        capture_output=True,
        text=True,
        check=False,
        timeout=900,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    counts = {
        line[10:]: int(line[:8]) for line in done.stdout.splitlines() if line[:8].strip().isdigit()
    }
    assert counts["files dropped"] > 5
    assert counts["host killed"] > 0
    assert counts["films"] > 0
    assert counts["lost"] == counts["doubled"] == counts["half written"] == 0


@pytest.mark.slow
def test_a_soak_that_somebody_ends_says_so_and_tells_what_it_counted(tmp_path: Path) -> None:
    place = Path(tempfile.mkdtemp())  # where the hosts, which run as another user, can go too
    place.chmod(0o755)
    with (tmp_path / "said").open("wb") as said:
        process = subprocess.Popen(
            [sys.executable, str(SOAK / "soak.py"), "--minutes", "5"],
            env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path), "TMPDIR": str(place)},
            stdout=said,
            stderr=said,
        )
    until = time.monotonic() + 60
    while not list(place.glob("soak-*/rounds/1/log")):
        assert process.poll() is None, (tmp_path / "said").read_text()
        assert time.monotonic() < until
        time.sleep(0.05)
    process.terminate()
    assert process.wait(timeout=60) == 143
    lines = (tmp_path / "said").read_text().splitlines()
    assert lines[-1] == "ended by SIGTERM; the round that went on is not counted"
    assert "       0  films" in lines
    assert not list(place.glob("soak-*"))  # its disks and hosts are let go
    place.rmdir()


# --- the count sees what is wrong ----------------------------------------------------------------


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """A profile's folder after two jobs, one made, one refused, as the service leaves it."""
    from PIL import Image

    root = tmp_path / "small"
    for name in ("drop", "originals", "rejected", "positives", "proofs", "records", ".filmhand"):
        (root / name).mkdir(parents=True)
    (tmp_path / "printed").mkdir()
    (tmp_path / "scratch").mkdir()
    (root / "originals" / "a.png").write_bytes(b"art")
    Image.new("1", (20, 20)).save(root / "positives" / "a.tif", compression="group4")
    film = soak_audit.sha256((root / "positives" / "a.tif").read_bytes())
    record = {
        "job": "1",
        "profile": {"name": "small"},
        "source": {"sha256": soak_audit.sha256(b"art")},
        "film": {"files": {"tiff": "a.tif"}, "sha256": {"tiff": film}},
    }
    (root / "records" / "a.json").write_text(json.dumps(record))
    (root / "proofs" / "a.jpg").write_bytes(b"proof")
    (root / "rejected" / "b.png").write_bytes(b"bad")
    (root / "rejected" / "b.png.why.txt").write_text("why")
    line = {"job": "2", "reason": "damaged", "sha256": soak_audit.sha256(b"bad")}
    (root / "rejected" / "rejections.jsonl").write_text(json.dumps(line) + "\n")
    (root / ".filmhand" / "folder.json").write_text("{}")
    return root


def count(root: Path) -> soak_audit.Audit:
    dropped = Counter([b"art", b"bad"])
    places = {"printed": root.parent / "printed", "scratch": root.parent / "scratch"}
    return soak_audit.audit(root, dropped, **places)


def test_a_sound_folder_counts_as_sound(shop: Path) -> None:
    found = count(shop)
    assert found.wrong == []
    assert (found.films, found.jobs_made, found.refused) == (1, 1, 1)


def _twice(root: Path, name: str, copy: str) -> None:
    (root / copy).write_bytes((root / name).read_bytes())


def _spoil(root: Path) -> None:
    (root / "positives" / "a.tif").write_bytes(b"half")


def _spoil_both(root: Path) -> None:
    """Not whole, though film and record agree."""
    data = (root / "positives" / "a.tif").read_bytes()
    record = (root / "records" / "a.json").read_text()
    (root / "positives" / "a.tif").write_bytes(data[:40])
    record = record.replace(soak_audit.sha256(data), soak_audit.sha256(data[:40]))
    (root / "records" / "a.json").write_text(record)


def _again(root: Path) -> None:
    record = (root / "records" / "a.json").read_text().replace('"1"', '"3"')
    record = record.replace("a.tif", "a-2.tif")
    (root / "records" / "a-2.json").write_text(record)
    _twice(root, "positives/a.tif", "positives/a-2.tif")
    _twice(root, "proofs/a.jpg", "proofs/a-2.jpg")


WRONGS: dict[str, tuple[str, Callable[[Path], object]]] = {
    "original lost": ("lost", lambda root: (root / "originals" / "a.png").unlink()),
    "original changed": ("lost", lambda root: (root / "originals" / "a.png").write_bytes(b"x")),
    "original twice": ("doubled", lambda root: _twice(root, "originals/a.png", "drop/a.png")),
    "refused art lost": ("lost", lambda root: (root / "rejected" / "b.png").unlink()),
    "film lost": ("lost", lambda root: (root / "positives" / "a.tif").unlink()),
    "film printed twice": (
        "doubled",
        lambda root: _twice(root, "positives/a.tif", "../printed/a.tif.1"),
    ),
    "film made twice": ("doubled", _again),
    "film cut off": ("half_written", _spoil),
    "film cut off before it was hashed": ("half_written", _spoil_both),
    "film without record": (
        "half_written",
        lambda root: _twice(root, "positives/a.tif", "positives/c.tif"),
    ),
    "something else among the films": (
        "half_written",
        lambda root: (root / "positives" / ".a.new").write_bytes(b""),
    ),
    "record cut off": (
        "half_written",
        lambda root: (root / "records" / "a.json").write_text('{"job": '),
    ),
    "proof missing": ("half_written", lambda root: (root / "proofs" / "a.jpg").unlink()),
    "note missing": ("half_written", lambda root: (root / "rejected" / "b.png.why.txt").unlink()),
    "refusal told twice": (
        "doubled",
        lambda root: (root / "rejected" / "rejections.jsonl").write_text(
            (root / "rejected" / "rejections.jsonl").read_text() * 2
        ),
    ),
    "refusal not told": (
        "lost",
        lambda root: (root / "rejected" / "rejections.jsonl").write_text(""),
    ),
    "log cut off": (
        "half_written",
        lambda root: (root / "rejected" / "rejections.jsonl").write_text(
            (root / "rejected" / "rejections.jsonl").read_text() + '{"job"'
        ),
    ),
    "made by a copied profile": (
        "doubled",
        lambda root: (root / "records" / "a.json").write_text(
            (root / "records" / "a.json").read_text().replace('"small"', '"copy"')
        ),
    ),
    "bytes from outside": (
        "doubled",
        lambda root: (root / ".filmhand" / "alive").write_bytes(b"with " + SECRET),
    ),
    "litter that took a customer's place": (
        "lost",
        lambda root: (root / "originals" / "a.png").write_bytes(LITTER),
    ),
    "job left over": (
        "half_written",
        lambda root: (root / ".filmhand" / "job.json").write_text("{}"),
    ),
}


@pytest.mark.parametrize("wrong", WRONGS)
def test_what_is_wrong_is_counted(shop: Path, wrong: str) -> None:
    kind, spoil = WRONGS[wrong]
    spoil(shop)
    assert getattr(count(shop), kind) > 0


def test_a_film_that_is_not_whole_is_seen_in_between_too(shop: Path) -> None:
    found = soak_audit.Audit()
    soak_audit.look_in_between(shop, found)
    assert found.wrong == []
    _spoil(shop)
    soak_audit.look_in_between(shop, found)
    assert found.half_written == 1


def test_what_changes_outside_of_the_station_is_seen() -> None:
    with tempfile.TemporaryDirectory() as place:
        Path(place).chmod(0o711)  # with root another user makes them
        folder = Path(place) / "outside"
        outside = Canaries(folder)
        assert outside.changes() == []
        (folder / "held" / "a.png").unlink()
        (folder / "deep" / "er" / "new").write_bytes(b"")
        seen = " ".join(outside.changes())
    assert "held/a.png" in seen and "er/new" in seen
