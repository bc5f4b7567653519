"""What lies on disk after a soak, against what was dropped: lost, doubled, half-written.

Everything is read from the folders alone: nothing that the service says about itself counts.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from faults import COPY, LITTER, SECRET

from filmhand.errors import FilmhandError
from filmhand.film.read import read_film

# Of a job whose folder was set aside as a whole.
OUR_NOTES = frozenset({"job.json", "why.txt", ".why.txt.new"})


@dataclass
class Audit:
    """Counts, and one line for each thing that is wrong."""

    films: int = 0
    shared: int = 0  # records of art on a sheet that was counted with another's
    of_sets: int = 0  # films that belong to a set
    jobs_made: int = 0
    refused: int = 0
    lost: int = 0
    doubled: int = 0
    half_written: int = 0
    reasons: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)

    def __add__(self, other: Audit) -> Audit:
        sums = {
            name: getattr(self, name) + getattr(other, name)
            for name in (
                "films",
                "shared",
                "of_sets",
                "jobs_made",
                "refused",
                "lost",
                "doubled",
                "half_written",
            )
        }
        return Audit(**sums, reasons=self.reasons + other.reasons, wrong=self.wrong + other.wrong)

    def note(self, kind: str, count: int, what: str) -> None:
        """Count something wrong."""
        if count > 0:
            setattr(self, kind, getattr(self, kind) + count)
            self.wrong.append(f"{kind}: {count} x {what}")


def sha256(data: bytes) -> str:
    """The hash as records tell it."""
    return hashlib.sha256(data).hexdigest()


def files_in(folder: Path) -> list[Path]:
    """Every regular file below, in order; folders may come and go meanwhile."""
    found = [Path(above, name) for above, _, names in os.walk(folder) for name in names]
    return sorted(path for path in found if path.is_file() and not path.is_symlink())


def is_note(path: Path) -> bool:
    """True for what the service itself writes into rejected/."""
    log = path.name.startswith("rejections") and path.name.endswith(".jsonl")
    return log or path.name.endswith(".why.txt")


def is_companion(path: Path) -> bool:
    """True for a ticket or a mask."""
    return path.name.endswith((".ticket.yaml", ".clear.png"))


def is_ours(path: Path, hidden: Path) -> bool:
    """True for what may lie in the private folder when all work is done."""
    inside = path.relative_to(hidden).parts
    return path.name in {"folder.json", "alive"} or inside[0] == "set-aside" or is_litter(path)


def is_litter(path: Path) -> bool:
    """True for what another system left there, or for as much of it as a full disk took."""
    try:
        return LITTER.startswith(path.read_bytes())
    except FileNotFoundError:  # taken by a host at work
        return False


def audit(
    root: Path,
    dropped: Counter[bytes],
    *,
    printed: Path,
    scratch: Path,
    unfinished: frozenset[str] = frozenset(),
    unsure: frozenset[str] = frozenset(),
) -> Audit:
    """Everything about one profile's folder when all work is done.

    `dropped` counts every content that was dropped, tickets and masks too; `printed` is where a
    print queue took films to, as ``<name>.<number>``. `unfinished` are hashes of what files held
    before they changed, of which marked films and refusals may be left; nothing can be said of
    those that are `unsure`.
    """
    found = Audit()
    _customers_files(root, dropped, found)
    _films(root, printed, scratch, found, unfinished, unsure)
    _refusals(root, found, unfinished | unsure)
    for path in files_in(root / ".filmhand"):
        if not is_ours(path, root / ".filmhand"):
            found.note("half_written", 1, f"left over: {path}")
    for path in files_in(root):
        if SECRET in path.read_bytes():
            found.note("doubled", 1, f"bytes from outside of the station in {path}")
    for path in files_in(root / "drop"):
        found.note("half_written", 1, f"still in drop: {path}")
    return found


def _customers_files(root: Path, dropped: Counter[bytes], found: Audit) -> None:
    kept: Counter[bytes] = Counter()
    for name in ("drop", "originals", "rejected"):
        for path in files_in(root / name):
            if not (name == "rejected" and is_note(path)):
                kept[path.read_bytes()] += 1
    for path in files_in(root / ".filmhand"):
        held = path.parent.name == "held" and path.name != "job.json"
        if held or ("set-aside" in path.parts and path.name not in OUR_NOTES):
            kept[path.read_bytes()] += not is_litter(path)
    for data, number in (dropped - kept).items():
        found.note("lost", number, f"dropped {data[:40]!r} ({sha256(data)})")
    for data, number in (kept - dropped).items():
        found.note("doubled", number, f"kept {data[:40]!r} ({sha256(data)})")


def _records(root: Path, found: Audit) -> list[tuple[Path, dict[str, Any]]]:
    records = []
    for path in files_in(root / "records"):
        try:
            records.append((path, json.loads(path.read_bytes())))
        except ValueError:
            found.note("half_written", 1, f"record {path}")
    return records


def _films(
    root: Path,
    printed: Path,
    scratch: Path,
    found: Audit,
    unfinished: frozenset[str],
    unsure: frozenset[str],
) -> None:
    taken: dict[str, list[Path]] = {}
    for path in files_in(root / "positives"):
        taken.setdefault(str(path.relative_to(root / "positives")), []).append(path)
    for path in files_in(printed):
        name = str(path.relative_to(printed)).rpartition(".")[0]
        taken.setdefault(name, []).append(path)
    sets: dict[tuple[str, str, int], list[int]] = {}
    shared: set[str] = set()  # sheets that were looked at with the record of another art
    jobs: dict[str, set[str]] = {}
    for path, record in _records(root, found):
        sub = path.parent.relative_to(root / "records")
        if record.get("unfinished_art"):  # marked, since its films may be gone already
            if record["source"]["sha256"] not in unfinished:
                found.note("half_written", 1, f"marked as of unfinished art: {path}")
            for name in record["film"]["files"].values():
                found.note("doubled", len(taken.pop(str(sub / name), [])) - 1, f"film {sub / name}")
                shared.add(str(sub / name))
            continue
        jobs.setdefault(record["source"]["sha256"], set()).add(record["job"])
        if (place := record.get("set")) is not None:
            whole = (record["job"], place["id"], place["of"])
            sets.setdefault(whole, []).append(place["k"])
        if record["profile"]["name"] == COPY:
            found.note("doubled", 1, f"made by the copied profile: {path}")
        if not (root / "proofs" / path.relative_to(root / "records").with_suffix(".jpg")).is_file():
            found.note("half_written", 1, f"no proof for {path}")
        for kind, name in record["film"]["files"].items():
            if "gang" in record and str(sub / name) in shared:
                found.shared += 1
                continue
            shared.add(str(sub / name))
            copies = taken.pop(str(sub / name), [])
            found.note("lost", 1 - len(copies), f"film {sub / name}")
            found.note("doubled", len(copies) - 1, f"film {sub / name}")
            for film in copies:
                found.films += 1
                _whole(film, record["film"]["sha256"][kind], scratch, found)
    for (job, _, of), numbers in sets.items():
        found.of_sets += of
        if sorted(numbers) != list(range(1, of + 1)):
            found.note(
                "half_written", 1, f"of the set of {job} there are {sorted(numbers)} of {of}"
            )
    for name in taken:
        found.note("half_written", 1, f"no record for {name}")
    originals = Counter(
        sha256(p.read_bytes()) for p in files_in(root / "originals") if not is_companion(p)
    )
    for digest in (originals.keys() | jobs.keys()) - unsure:
        made, wanted = len(jobs.get(digest, ())), originals[digest]
        found.jobs_made += made
        found.note("doubled", made - wanted, f"films of {digest}")
        found.note("lost", wanted - made, f"films of {digest}")


def _whole(film: Path, digest: str, scratch: Path, found: Audit) -> None:
    if sha256(film.read_bytes()) != digest:
        found.note("half_written", 1, f"not as its record says: {film}")
        return
    try:
        bits, _ = read_film(film, scratch)
        bits.close()
    except FilmhandError as error:
        found.note("half_written", 1, f"cannot be read: {film}: {error}")


_LINE = b'{"schema": "filmhand-refusal/1"'


def _refusals(root: Path, found: Audit, changed: frozenset[str]) -> None:
    lines = []
    for log in (root / "rejected").glob("rejections*.jsonl"):
        for line in log.read_bytes().splitlines():
            try:
                lines.append(json.loads(line))
            except ValueError:
                # A full disk may leave the beginning of a line; the whole one must come after it,
                # or the refusal counts as lost below.
                if not line.startswith(_LINE[: len(line)]):
                    found.note("half_written", 1, f"a line of {log.name}: {line[:60]!r}")
    found.reasons = Counter(line["reason"] for line in lines)
    found.refused = len({line["job"] for line in lines})
    found.note("doubled", len(lines) - found.refused, "lines of refusal for one job")
    art = [p for p in files_in(root / "rejected") if not is_note(p)]
    alone = {sha256(p.read_bytes()) for p in art if is_companion(p)}
    refused = Counter(sha256(p.read_bytes()) for p in art if not is_companion(p))
    told = Counter(line["sha256"] for line in lines if line["sha256"] not in alone)
    for digest, number in (refused - told).items():
        found.note("lost", number, f"refusal of {digest}")
    for digest, number in (told - refused).items():
        if digest not in changed:
            found.note("doubled", number, f"refusal of {digest}")
    for path in art:
        if not is_companion(path) and not path.with_name(path.name + ".why.txt").is_file():
            found.note("half_written", 1, f"no note for {path}")


def look_in_between(root: Path, found: Audit) -> None:
    """At any moment: a film that shows is whole, and its record was there before it."""
    for film in files_in(root / "positives"):
        name = film.relative_to(root / "positives")
        record = (root / "records" / name).with_suffix(".json")
        try:
            told = json.loads(record.read_bytes())
            data = film.read_bytes()
        except (FileNotFoundError, ValueError):
            if film.exists():  # it was not withdrawn meanwhile
                found.note("half_written", 1, f"in between: no record for {name}")
            continue
        kind = {file: kind for kind, file in told["film"]["files"].items()}[film.name]
        if sha256(data) != told["film"]["sha256"][kind]:
            found.note("half_written", 1, f"in between: {name} is not whole")
