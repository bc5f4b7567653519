"""Forged state by structure: what somebody who can write in a profile's folder may leave there.

Each forger starts from what filmhand itself would have left and changes some of it: values in the
JSON, the bytes of a file, or what lies under a name.
"""

from __future__ import annotations

import hashlib
import json
import os
import socket
import stat
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Any

STATES = (
    "gathering", "ganged", "claiming", "claimed", "held", "publishing", "parting", "retiring",
    "rejecting", "returning",
)  # fmt: skip
ORDER_STATES = (
    "waiting", "creating", "created", "sending", "following", "doubtful", "ending",
)  # fmt: skip
PRINTER = "ipp://film-printer.local/ipp/print"
OWN, DEAD, MUTE = "here-00000000", "dead-11111111", "mute-22222222"
NAMES = ("a.png", "class 4", "\u00e9.png", "e\u0301.png", "\u202egnp.exe", "-rf", " ", "...", "~",
         "a\nb.png", "CON", "x" * 255, ".filmhand", "job.json", "set-aside", ".nfs01", "@eaDir",
         "desktop.ini", os.fsdecode(b"\xff\xfe.png"), "a.png.ticket.yaml", "held")  # fmt: skip
REFUSAL = {"reason": "blank", "say": "It is blank.", "do": "Send more.", "found": None,
           "needed": {"value": 2.5, "unit": "mm"}}  # fmt: skip


def sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


@dataclass
class Forger:
    """Forges in the profile folder `root`; `outside` is where nothing may change."""

    random: Random
    root: Path
    outside: Path
    count: int = 0
    customers: list[bytes] = field(default_factory=list)  # in regular files that must stay

    @property
    def hidden(self) -> Path:
        return self.root / ".filmhand"

    # --- values ------------------------------------------------------------------------------

    def new_id(self) -> str:
        self.count += 1
        return f"2026010{self.random.randrange(1, 10)}T0304{self.count % 60:02}-{self.count:08x}"

    def customer(self) -> bytes:
        """The bytes of art that nobody else has."""
        self.count += 1
        word = self.random.choice([b"art", b"art", b"refuse", b"pages", b"cut", b""])
        data = word + b" customer %d %d" % (self.count, self.random.getrandbits(64))
        self.customers.append(data)
        return data

    def hostile(self) -> Any:
        """A value as no file of filmhand has it, or has it elsewhere."""
        secret = str(self.outside / "secret.txt")
        up = "../" * self.random.randrange(1, 9)
        return self.random.choice([
            secret, f"{up}outside/secret.txt", f"{up}outside/folder", str(self.outside / "folder"),
            "..", ".", "", "/", "a/b", "a/../../b", "\0", "a\0b", "\ud800", "x" * 300, "x" * 5000,
            None, True, False, 0, -1, 2**31, 2**63, 2**200, 1e308, -0.5, [], {}, [[]], [secret],
            {"art": secret}, {"a": {"a": {"a": [secret]}}}, "claimed", "publishing", "2026",
            "20260101T000000-00000001", "0" * 64, _nested(60), _nested(900), *NAMES,
        ])  # fmt: skip

    def mutate(self, value: Any) -> Any:
        """Change a few places anywhere in a value."""
        for _ in range(self.random.choice([0, 1, 1, 1, 2, 3, 5])):
            value = self._mutate_once(value)
        return value

    def _mutate_once(self, value: Any) -> Any:
        places: list[tuple[Any, Any]] = []
        waiting = [value] if isinstance(value, dict | list) else []
        while waiting and len(places) < 3000:
            one = waiting.pop()
            inside = list(one.items() if isinstance(one, dict) else enumerate(one))
            places += [(one, key) for key, _ in inside]
            waiting += [member for _, member in inside if isinstance(member, dict | list)]
        if not places or self.random.random() < 0.02:
            return self.hostile()
        around, key = self.random.choice(places)
        what = self.random.random()
        if what < 0.7:
            around[key] = self.hostile()
        elif what < 0.85:
            del around[key]
        elif isinstance(around, dict):
            around[str(self.random.choice(NAMES))] = self.hostile()
        else:
            around.append(self.hostile())
        return value

    def text(self, value: Any) -> bytes:
        """The value as JSON, now and then as no program writes it."""
        try:
            data = json.dumps(value).encode()
        except (RecursionError, ValueError):
            data = b"[" * 50_000
        what = self.random.random()
        if what < 0.85:
            return data
        return self.random.choice([
            data[: self.random.randrange(len(data) + 1)], b"\0" * len(data), b"", b"\xff" + data,
            b"[" * 100_000, b'{"id": ' * 3000, b"1" * 10_000, b'{"a": NaN}', b"\xef\xbb\xbf" + data,
            data + data, data.replace(b"1", b"9" * 5000), b'{"schema": "x", "schema": "y"}',
        ])  # fmt: skip

    # --- what lies under a name --------------------------------------------------------------

    def put(self, path: Path, data: bytes) -> None:
        """A file, or now and then something else under its name."""
        if self.random.random() >= 0.9:
            self.trap(path)
        elif self._is_inside(path):
            with suppress(OSError, ValueError):
                path.parent.mkdir(parents=True, exist_ok=True)
                if path.is_file() or not os.path.lexists(path):
                    path.write_bytes(data)

    def _is_inside(self, path: Path) -> bool:
        """False where a link that was forged before leads out: we must not change that either."""
        with suppress(OSError, ValueError):
            return not path.is_symlink() and path.resolve().is_relative_to(self.root.parent)
        return False

    def trap(self, path: Path) -> None:
        """A link, pipe, device, socket, folder or very long file in the place of `path`."""
        if not self._is_inside(path.parent):
            return
        with suppress(OSError, ValueError):
            path.parent.mkdir(parents=True, exist_ok=True)
            if path.is_symlink() or not path.is_dir():
                path.unlink(missing_ok=True)
            else:
                path.rename(path.with_name(path.name[:200] + "-was"))
            self.random.choice(self._traps())(path)

    def _traps(self) -> list[Callable[[Path], Any]]:
        links = [
            self.outside / "secret.txt", self.outside / "folder", self.outside, "/dev/zero",
            self.outside / "nothing", ".", "..", "../../../outside/secret.txt",
            "/proc/self/fd/0", "/proc/self/root", self.outside / "jobs",
        ]  # fmt: skip
        to = self.random.choice(links)
        made: list[Callable[[Path], Any]] = [
            lambda path: path.symlink_to(to),
            lambda path: path.symlink_to(to),
            lambda path: path.symlink_to(to),
            os.mkfifo,
            lambda path: path.mkdir(),
            lambda path: (path / "x" / "y").mkdir(parents=True),
            _deep_folder,
            _socket,
            _very_long,
        ]
        if os.geteuid() == 0:
            made.append(lambda path: os.mknod(path, stat.S_IFCHR | 0o666, os.makedev(1, 5)))
        return made

    # --- state -------------------------------------------------------------------------------

    def job(self, folder: Path, identity: str, members: list[str] | None = None) -> dict[str, Any]:
        """A sound job of any state with its files, and what its job.json says."""
        random = self.random
        gang = members is not None
        of_gangs = ["gathering", "ganged", "parting"]
        state = random.choice([*of_gangs, "held", "publishing"] if gang else [
            state for state in STATES if state not in of_gangs
        ])  # fmt: skip
        art = random.choice(["a.png", "b.png", "\u00e9.png", "c d.tif"])
        data = self.customer()
        kept = {"art": art, "why": f"{art}.why.txt"}
        told: dict[str, Any] = {
            "schema": "filmhand-job/1", "id": identity, "profile": "small",
            "snapshot": {"name": "small", "text": "lpi: 25"}, "sub": random.choice([[], ["class"]]),
            "art": art, "ticket": None, "mask": None, "seen": {art: [len(data), 1, 1]},
            "state": state, "strikes": random.randrange(3), "sha256": sha256(data),
            "refusal": REFUSAL if state == "rejecting" else None, "at": "2026-01-02T03:04:05Z",
            "earlier": None, "stem": "a", "films": [], "items": [],
            "kept": kept if state in {"rejecting", "returning"} else {},
            "logged": random.random() < 0.5, "company": members or [], "sheet": "",
            "hold": {"approve": random.random() < 0.5, "sheets": random.randrange(4),
                     "person": random.choice(["", "class"]), "released": random.random() < 0.3,
                     "day": random.choice(["", "2026-01-02", "2026-99-99"]), "placed": False,
                     "over": random.random() < 0.3, "why": "", "until": ""},
        }  # fmt: skip
        if not self._is_inside(folder):
            return told
        with suppress(OSError):
            folder.mkdir(parents=True, exist_ok=True)
            if not gang:
                (folder / "held").mkdir()
                (folder / "held" / art).write_bytes(data)
                found = (folder / "held" / art).stat()
                told["seen"] = {art: [found.st_size, found.st_mtime_ns, found.st_ino]}
            else:
                self.customers.remove(data)
            if state in {"held", "publishing", "retiring"}:
                self._films(folder, told, members)
        return told

    def _films(self, folder: Path, told: dict[str, Any], members: list[str] | None) -> None:
        (folder / "out").mkdir(exist_ok=True)
        stem = f"film {self.count}"
        files = {"0.pdf": b"film", "0.proof.jpg": b"proof", "0.1.record.json": b"{}"}
        for name, data in files.items():
            (folder / "out" / name).write_bytes(data)
        film = {"suffix": "", "record": {}, "files": {"pdf": ["0.pdf", sha256(b"film")]},
                "proof": ["0.proof.jpg", sha256(b"proof")]}  # fmt: skip
        if self.random.random() < 0.5:
            name = self.new_id().replace("-", "000000-") + "-00001"
            told_of = {"name": "film.pwg", "sha256": sha256(b"film"), "bytes": 4}
            film["order"] = {"id": name, "sheets": 1, "size": [1, 1], "margin": [0] * 4,
                             "dpi": [300, 300], "documents": {"pwg": told_of}}  # fmt: skip
            (folder / "out" / name).mkdir()
            (folder / "out" / name / "film.pwg").write_bytes(b"film")
        if members:
            film |= {"stem": stem, "member": members[0], "art": "a.png", "sha256": sha256(b""),
                     "earlier": None}  # fmt: skip
        elif self.random.random() < 0.5:
            self._set(folder, told, film, stem)
            return
        places = (("records", "0.1.record.json", ".json"), ("proofs", "0.proof.jpg", ".jpg"),
                  ("positives", "0.pdf", ".pdf"))  # fmt: skip
        told["stem"], told["films"] = stem, [film]
        told["items"] = [
            {"source": source, "kind": kind, "name": stem + end, "sha256": sha256(files[source])}
            for kind, source, end in places
        ]

    def _set(self, folder: Path, told: dict[str, Any], first: dict[str, Any], stem: str) -> None:
        """A set of three films, of which some may be published and others not."""
        told["stem"], told["films"], told["items"] = stem, [], []
        (folder / "out" / "set0.proof.jpg").write_bytes(b"proof of the set")
        proof = ["set0.proof.jpg", sha256(b"proof of the set")]
        told["sets"] = [{"suffix": "", "proof": proof}]
        items = [("set0.proof.jpg", "proofs", f"{stem}.jpg", b"proof of the set")]
        for k, ink in enumerate(("red", "blue", "black"), 1):
            record = self.of_set(k, ink)
            files = {f"{k}.pdf": b"film", f"{k}.proof.jpg": b"proof", f"{k}.1.record.json": b"{}"}
            for name, data in files.items():
                (folder / "out" / name).write_bytes(data)
            film = {"suffix": f"-{k}-{ink}", "record": record,
                    "files": {"pdf": [f"{k}.pdf", sha256(b"film")]},
                    "proof": [f"{k}.proof.jpg", sha256(b"proof")]}  # fmt: skip
            if k == 1 and "order" in first:
                film["order"] = first["order"] | {"run": first["order"]["id"], "place": 1, "of": 3}
            told["films"].append(film)
            name = f"{stem}-{k}-{ink}"
            items += [(f"{k}.1.record.json", "records", f"{name}.json", b"{}"),
                      (f"{k}.proof.jpg", "proofs", f"{name}.jpg", b"proof"),
                      (f"{k}.pdf", "positives", f"{name}.pdf", b"film")]  # fmt: skip
        told["items"] = [
            {"source": source, "kind": kind, "name": name, "sha256": sha256(data)}
            for source, kind, name, data in items
        ]
        for source, *_ in self.random.sample(items, self.random.choice([0, 0, 1, 4])):
            (folder / "out" / source).unlink()  # it looks published

    def of_set(self, k: int, ink: str) -> dict[str, Any]:
        """What a record says of a film of a set."""
        place = {"id": sha256(b"set")[:16], "k": k, "of": 3, "ink": ink, "color": [50.0, 0.0, 1.5]}
        return {"set": self.mutate(place) if self.random.random() < 0.3 else place}

    def forged_job(self, around: Path) -> None:
        """A job's folder whose notes, name or files are not what they should be."""
        identity = self.new_id()
        name = identity if self.random.random() < 0.9 else self.random.choice(NAMES)
        folder, members = around / name, None
        if self.random.random() < 0.3:
            members = [self.new_id() for _ in range(self.random.randrange(1, 4))]
            for member in members:
                inside = folder / member
                told = self.job(inside, member)
                self.put(inside / "job.json", self.text(self.mutate(told)))
        told = self.job(folder, identity, members)
        art = told["art"]
        self.put(folder / "job.json", self.text(self.mutate(told)))
        if self.random.random() < 0.4:
            own = ["held", "out", "shared", "why.txt", "place", ".job.json.new", "out/0.pdf",
                   f"held/{art}", "held/.x", "out/0.proof.jpg", "zzz"]  # fmt: skip
            path = folder / self.random.choice(own)
            if not path.is_file() or "held" not in path.parts:
                self.trap(path)

    def order(self, folder: Path) -> dict[str, Any]:
        """A sound print order of any state with its documents, and what its order.json says."""
        state = self.random.choice(ORDER_STATES)
        at_printer = state not in {"waiting", "ending"}
        told: dict[str, Any] = {
            "schema": "filmhand-print-order/1", "id": folder.name, "job": self.new_id(),
            "profile": "small", "sub": self.random.choice([[], ["class"]]), "stem": "a",
            "person": None, "at": "2026-01-02T03:04:05Z", "sheets": 1, "size": [21590, 27940],
            "margin": [635] * 4, "dpi": [300, 300], "state": state, "tries": 1,
            "documents": {"pwg": {"name": "film.pwg", "sha256": sha256(b"film"), "bytes": 4}},
            "printer": PRINTER if at_printer else None, "number": 7 if at_printer else None,
            "why": "", "cancel": self.random.random() < 0.2,
            "ended": {"state": "printed", "at": "2026-01-02T03:04:05Z", "why": ""}
            if state == "ending" else None,
        }  # fmt: skip
        if self.random.random() < 0.5:  # of a set, that is of a run of which others are not there
            told |= {"run": folder.name, "place": self.random.choice([1, 2, 3]), "of": 3,
                     "set_stem": "a", "stem": "a-1-red"}  # fmt: skip
        if self._is_inside(folder):
            with suppress(OSError):
                folder.mkdir(parents=True, exist_ok=True)
                (folder / "film.pwg").write_bytes(b"film")
        return told

    def forged_order(self) -> None:
        """A print order whose notes, documents, name or requests are not what they should be."""
        self.count += 1
        prints = self.hidden / self.random.choice([OWN, OWN, DEAD, MUTE]) / "prints"
        name = f"20260101T{self.count:012}-{self.count:08x}-00001"
        folder = prints / (name if self.random.random() < 0.9 else self.random.choice(NAMES))
        self.put(folder / "order.json", self.text(self.mutate(self.order(folder))))
        what = self.random.random()
        if what < 0.2:
            self.trap(
                folder / self.random.choice(["film.pwg", "order.json", ".order.json.new", "x"])
            )
        elif what < 0.3:
            self.trap(folder)
        elif what < 0.5:
            asked = prints / f"{name}.{self.random.choice(['cancel', 'again', 'shout'])}"
            (self.trap(asked) if self.random.random() < 0.5 else self.put(asked, b""))
        elif what < 0.55:
            self.trap(self.random.choice([prints, self.hidden / "printing-paused"]))

    def forged_turn(self) -> None:
        """Whose turn a printer is, as no host has said, and what a kill leaves of it."""
        name = f"turn-{sha256(PRINTER.encode())[:16]}"
        host = self.random.choice(
            [OWN, DEAD, "gone-33333333", "../x-00000000", str(self.hostile())]
        )
        place = self.hidden / self.random.choice([name, name, f"{name}.wanted", "turn-x", "turn-"])
        own = self.hidden / OWN / self.random.choice([f".{name}.new", f".{name}.old"])
        self.put(self.random.choice([place, place, own]), host.encode("utf-8", "replace") + b"\n")
        if self.random.random() < 0.3:
            self.trap(place)

    def forged_host(self) -> None:
        """A host that left jobs and something like a sign of life."""
        host = self.random.choice([DEAD, MUTE, OWN, "odd", "..-00000000", f"x{'y' * 30}-0000000a"])
        self.forged_job(self.hidden / host)
        sign = {"nonce": "0" * 16, "pid": 2**22 - 1, "started": "1", "where": None}
        self.put(self.hidden / host / "alive", self.text(self.mutate(sign)))
        if self.random.random() < 0.3:
            self.trap(self.hidden / host / self.random.choice(["alive", ".alive.new", "x", "held"]))

    def forged_record(self) -> None:
        record = {
            "job": self.new_id(), "at": "2020-01-02T03:04:05Z", "schema": "filmhand-record/1",
            "film": {"files": {"pdf": "r.pdf"}}, "source": {"name": "r.png", "sha256": "0" * 64},
        }  # fmt: skip
        name = self.random.choice(["r.json", "class/r.json", "x/y/z/r.json", "\u00e9.json"])
        if self.random.random() < 0.5:
            record |= self.of_set(self.random.choice([1, 2, 3]), "red")
            name = f"s-{self.random.choice([1, 1, 2, 3, 10**30])}-red.json"
        self.put(self.root / "records" / name, self.text(self.mutate(record)))

    def forged_refusal(self) -> None:
        line = {"schema": "filmhand-refusal/1", "at": "2026-01-02T03:04:05Z", "job": self.new_id(),
                "profile": "small", "name": "q.png", "sha256": "0" * 64, "kept": "q.png",
                **REFUSAL}  # fmt: skip
        host = self.random.choice(["", f".{DEAD}", f".{OWN}"])
        log = self.root / "rejected" / f"rejections{host}.jsonl"
        with suppress(OSError):
            before = log.read_bytes() if log.is_file() and not log.is_symlink() else b""
            self.put(log, before[-10_000:] + self.text(self.mutate(line)) + b"\n")

    def forged_place(self) -> None:
        """Something that is no folder, or no file, where films, art or notes would go."""
        kind = self.random.choice(
            ["positives", "proofs", "records", "originals", "rejected", "held", "release"]
        )
        name = self.random.choice(["class", "sound.pdf", "a.png", "rejections.jsonl", *NAMES])
        self.trap(self.root / kind / name)

    def forged_drop(self) -> None:
        name = self.random.choice(["l.png", "class", "a.png.ticket.yaml", "sub/l.png", *NAMES])
        self.trap(self.root / "drop" / name)

    def forged_top(self) -> None:
        """In the private folder itself, or in that of the station."""
        name = self.random.choice(["set-aside", OWN, DEAD, "x", ".folder.json.new", *NAMES])
        if self.random.random() < 0.5:
            self.trap(self.hidden / name)
            return
        pointer = {"state": str(self.outside / "state"), "computer": socket.gethostname()}
        around = self.root.parent / ".filmhand"
        self.put(around / f"{DEAD}.json", self.text(self.mutate(pointer)))
        if self.random.random() < 0.3:
            self.trap(around / self.random.choice([f"{OWN}.json", "x.json", ".station.new"]))

    def forged_request(self) -> None:
        """Something asked of a job that may or may not be there."""
        jobs = [path.name for path in self.hidden.glob("*/*") if path.name[:4] == "2026"]
        told = {"schema": "filmhand-request/1", "do": "discard",
                "what": self.random.choice([*jobs, self.new_id()])}  # fmt: skip
        name = self.random.choice([f"{self.new_id()}.json", "x.json", "x", ".x.new"])
        self.put(self.hidden / "asked" / name, self.text(self.mutate(told)))
        if self.random.random() < 0.2:
            self.trap(self.hidden / self.random.choice(["asked", "sheets"]))

    def forged_sheets(self) -> None:
        """Lines of the count of sheets."""
        line = {"schema": "filmhand-sheets/1", "at": "2026-01-02T03:04:05Z", "job": self.new_id(),
                "film": "a", "for": "class", "sheets": 1}  # fmt: skip
        name = self.random.choice(["2026-01-02", "2026-99-99", "x"])
        log = self.hidden / "sheets" / f"{name}.{self.random.choice([OWN, DEAD])}.jsonl"
        self.put(log, self.text(self.mutate(line)) + b"\n")

    def forged_release(self) -> None:
        """Something that looks like a proof, or is none, where released ones are looked for."""
        proofs = sorted((self.root / "held").rglob("*.jpg"))
        data = proofs[0].read_bytes() if proofs and proofs[0].is_file() else b"proof"
        name = self.random.choice(["film 1.jpg", "a.jpg", "class/a.jpg", "sound.jpg", *NAMES])
        self.put(self.root / "release" / name, self.random.choice([data, b"proof", b"else"]))

    def forge(self) -> None:
        """One forged state of any kind."""
        kinds: list[tuple[Callable[[], None], int]] = [
            (lambda: self.forged_job(self.hidden / OWN), 10),
            (self.forged_host, 6),
            (self.forged_order, 5),
            (self.forged_turn, 2),
            (self.forged_record, 2),
            (self.forged_refusal, 2),
            (self.forged_place, 3),
            (self.forged_drop, 2),
            (self.forged_top, 2),
            (self.forged_request, 2),
            (self.forged_sheets, 1),
            (self.forged_release, 2),
        ]
        self.random.choices([kind for kind, _ in kinds], [weight for _, weight in kinds])[0]()


def _nested(depth: int) -> Any:
    value: Any = "x"
    for _ in range(depth):
        value = [value]
    return value


def _deep_folder(path: Path) -> None:
    """Folders one in the other, deeper than Python's stack, made without long paths."""
    path.mkdir()
    folder = os.open(path, os.O_RDONLY)
    for _ in range(60):
        os.mkdir("d", dir_fd=folder)
        inner = os.open("d", os.O_RDONLY, dir_fd=folder)
        os.close(folder)
        folder = inner
    os.close(folder)


def _socket(path: Path) -> None:
    with socket.socket(socket.AF_UNIX) as made:
        made.bind(str(path))


def _very_long(path: Path) -> None:
    with path.open("wb") as file:
        file.truncate(2**25)
