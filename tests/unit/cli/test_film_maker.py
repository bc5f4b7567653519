"""Films by hand, with workers that only pretend: names, places, sheets and refusals."""

from __future__ import annotations

import errno
import hashlib
import json
import re
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from filmhand.cli import make as module
from filmhand.cli.main import main
from filmhand.cli.make import FilmMaker, is_companion
from filmhand.errors import ProgramFailed, Quantity, Reason, Refused
from filmhand.film.formats import Format
from filmhand.profile.model import Profile
from filmhand.profile.read.load import read_profile
from filmhand.request import FinishedFilm, FinishedSet, GangResult, JobRequest, JobResult
from filmhand.worker.parent import WorkerDied, WorkerLimits

PROFILE = """\
sheet: a4
dpi: 300
lpi: 25
dot: round
threshold: 50
mesh: none
margin: 5 mm
art: {fit: width 50 mm}
limits: {memory: 1 GiB, seconds: 420}
"""


def profile_of(more: str = "") -> Profile:
    return read_profile(PROFILE + more, name="small", file="small.yaml")


class Forks:
    """What starts processes: it only notes what becomes of it."""

    def __init__(self) -> None:
        self.told: list[str] = []

    def warm(self) -> None:
        self.told.append("warm")

    def start(self, folder: Path) -> None:
        raise AssertionError("the pretended workers start nothing")

    def close(self) -> None:
        self.told.append("close")


class Ahead:
    """A pretended process that waits for its job."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.told: list[str] = []

    def __enter__(self) -> Ahead:
        return self

    def __exit__(self, *error: object) -> None:
        self.told.append("seen to its end")

    def kill_group(self) -> None:
        self.told.append("killed")


class Workers:
    """Pretended workers: they make of each art what its first word says."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.forks = Forks()
        self.asked: list[tuple[JobRequest, WorkerLimits]] = []
        self.sheets: list[list[str]] = []
        self.ahead: list[Ahead] = []
        monkeypatch.setattr("filmhand.worker.fork_server.ForkServer", lambda: self.forks)
        monkeypatch.setattr(module, "start_fresh", self.start_fresh)
        monkeypatch.setattr(module, "run_in_worker", self.run)
        monkeypatch.setattr(module, "run_gang", self.gang)

    def start_fresh(self, folder: Path) -> Ahead:
        assert folder.is_dir()
        self.ahead.append(Ahead(folder))
        return self.ahead[-1]

    def check_start(self, request: JobRequest, start: Any) -> None:
        """The process that was started ahead takes the job of its folder, and no other one."""
        for ahead in self.ahead:
            if ahead.folder == request.scratch:
                assert start(request.scratch) is ahead
                return
        assert start == self.forks.start

    def run(self, request: JobRequest, *, limits: WorkerLimits, start: object) -> JobResult:
        self.asked.append((request, limits))
        assert request.scratch.is_dir() and (request.scratch.parent / "out") == request.out
        self.check_start(request, start)
        data = request.art.read_bytes()
        match data.split()[0]:
            case b"refuse":
                raise Refused(Reason.BLANK, "It is bare.", "Draw.", found=Quantity(0, "%"),
                              needed=Quantity(1, "%"))  # fmt: skip
            case b"crash":
                raise WorkerDied("line 1\nit ended by SIGSEGV\n")
            case b"bug":
                raise WorkerDied("Traceback\nKeyError: x", is_bug=True)
            case b"pages":
                return JobResult([film(request, data, suffix) for suffix in ("-p01", "-p02")])
            case b"set":
                whole = request.out / "set.jpg"
                whole.write_bytes(b"proof of " + data)
                films = [
                    film(request, data, end, set={"id": "ab"}) for end in ("-1-red", "-2-blue")
                ]
                return JobResult(films, [FinishedSet("", whole)])
        return JobResult([film(request, data)])

    def gang(
        self, requests: Sequence[JobRequest], *, limits: WorkerLimits, start: object
    ) -> GangResult:
        """The first two that are willing share a sheet."""
        assert start == self.forks.start
        self.sheets.append([request.name for request in requests])
        told, willing = GangResult(), []
        for number, request in enumerate(requests):
            self.asked.append((request, limits))
            match request.art.read_bytes().split()[0]:
                case b"refuse":
                    told.refused[number] = Refused(Reason.BLANK, "It is bare.", "Draw.")
                case b"pages":
                    told.alone[number] = "it has several pages"
                case b"crash":
                    raise WorkerDied("it ended by SIGSEGV")
                case _:
                    willing.append(number)
        for number in willing[:2]:
            told.placed[number] = film(requests[number], b"sheet", gang={"with": ["others"]})
        told.left = willing[2:]
        return told


def film(request: JobRequest, data: bytes, suffix: str = "", **record: Any) -> FinishedFilm:
    files = {}
    for kind in (Format.PDF, Format.PNG):
        files[kind] = request.out / f"made{suffix}.{kind}"
        files[kind].write_bytes(b"film of " + data)
    proof = request.out / f"made{suffix}.jpg"
    proof.write_bytes(b"proof of " + data)
    digests = {kind: hashlib.sha256(b"film of " + data).hexdigest() for kind in files}
    about = {"schema": "filmhand-record/1", "film": {"sha256": digests, "dpi": 300}, "notes": ["n"]}
    return FinishedFilm(suffix, files, proof, about | record)


@pytest.fixture
def workers(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Workers:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "logs"))
    return Workers(monkeypatch)


@pytest.fixture
def art(tmp_path: Path) -> Callable[..., Path]:
    (tmp_path / "art").mkdir()

    def write(name: str, data: str = "art") -> Path:
        path = tmp_path / "art" / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(f"{data} {name}")
        return path

    return write


@pytest.fixture
def out(tmp_path: Path) -> Path:
    (tmp_path / "films").mkdir()
    return tmp_path / "films"


@pytest.fixture
def maker(workers: Workers) -> Iterator[FilmMaker]:
    with FilmMaker() as one:
        yield one


Art = Callable[..., Path]


# --- workers -----------------------------------------------------------------------------------


def test_what_starts_jobs_is_got_ready_at_once_and_ended(
    workers: Workers, art: Art, out: Path
) -> None:
    profile = profile_of()
    with FilmMaker() as maker:
        assert workers.forks.told == ["warm"]
        maker.make(art("a.png"), profile, out)
        with pytest.raises(Refused):
            maker.make(art("b.png", "refuse"), profile, out)
        assert workers.forks.told == ["warm"]
        folders = {request.scratch for request, _ in workers.asked}
    assert workers.forks.told == ["warm", "close"]
    assert len(folders) == 2
    assert not any(folder.parent.parent.exists() for folder in folders)


def test_what_a_worker_is_asked(
    maker: FilmMaker,
    workers: Workers,
    art: Art,
    out: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(module, "usable_cores", lambda: 3)
    monkeypatch.chdir(tmp_path)
    path, profile = art("a.png"), profile_of()
    ticket, mask = art("A.png.Ticket.yml"), art("a.png.clear.png")
    (tmp_path / "link.png").symlink_to(path)
    maker.make(Path("art/a.png"), profile, out)
    maker.make(tmp_path / "link.png", profile, out)
    (request, limits), (linked, _) = workers.asked
    assert request == JobRequest(
        path, "a.png", profile, request.out, request.scratch, ticket, mask,
        threads=3, tiles=tmp_path / "cache" / "filmhand" / "tiles",
    )  # fmt: skip
    assert limits == WorkerLimits(seconds=420.0, memory=2**30)
    assert (linked.art, linked.name, linked.ticket, linked.mask) == (path, "link.png", None, None)
    monkeypatch.setattr(module, "user_folder", lambda *_: None)
    maker.make(path, profile, out)
    assert workers.asked[-1][0].tiles is None


# --- files and names ----------------------------------------------------------------------------


def test_a_film_its_proof_and_its_record(
    maker: FilmMaker, workers: Workers, art: Art, out: Path
) -> None:
    (made,) = maker.make(art("a.png"), profile_of(), out)
    names = ["a.pdf", "a.png", "a.proof.jpg", "a.json"]
    assert made.files == [out / name for name in names]
    assert sorted(path.name for path in out.iterdir()) == sorted(names)
    assert (out / "a.pdf").read_bytes() == (out / "a.png").read_bytes() == b"film of art a.png"
    assert (out / "a.proof.jpg").read_bytes() == b"proof of art a.png"
    assert json.loads((out / "a.json").read_bytes()) == made.record
    assert (out / "a.json").read_text().startswith('{\n  "schema"')
    assert made.record["film"]["files"] == {"pdf": "a.pdf", "png": "a.png"}
    assert made.record["film"]["dpi"] == 300
    at = datetime.strptime(made.record["at"], "%Y-%m-%dT%H:%M:%SZ").replace(tzinfo=UTC)
    assert abs(datetime.now(UTC) - at) < timedelta(minutes=5)


def test_half_a_film_never_lies_under_its_name(out: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (out / "a.pdf").write_bytes(b"old")
    write = Path.write_bytes

    def fill(path: Path, data: bytes) -> int:
        write(path, data[:2])
        raise OSError(errno.ENOSPC, "full")

    monkeypatch.setattr(Path, "write_bytes", fill)
    with pytest.raises(OSError, match="full"):
        module.replace_file(out / "a.pdf", b"new film")
    monkeypatch.undo()
    assert (out / "a.pdf").read_bytes() == b"old"
    assert all(path.name.startswith(".") for path in out.iterdir() if path.name != "a.pdf")


def test_what_an_earlier_run_wrote_is_replaced_and_nothing_else(
    workers: Workers, art: Art, out: Path
) -> None:
    profile = profile_of()

    def again(text: str = "art") -> str:
        with FilmMaker() as maker:
            (made,) = maker.make(art("a.jpg", text), profile, out)
        return made.files[0].stem

    assert [again(), again(), again("other")] == ["a", "a", "a"]
    assert len(list(out.iterdir())) == 4
    (out / "a.png").write_bytes(b"somebody's")
    assert again() == "a-2"
    assert (out / "a.png").read_bytes() == b"somebody's"
    (out / "a-2.pdf").unlink()  # what is gone is nobody's
    assert again("third") == "a-2"


@pytest.mark.parametrize("name", ["a.json", "a.proof.jpg", "a.pdf", "a.png"])
def test_each_file_of_somebody_elses_is_left_alone(
    maker: FilmMaker, art: Art, out: Path, name: str
) -> None:
    (out / name).write_text("somebody's")
    (made,) = maker.make(art("a.jpg"), profile_of(), out)
    assert {path.name for path in made.files} == {
        "a-2.pdf", "a-2.png", "a-2.proof.jpg", "a-2.json",
    }  # fmt: skip
    assert (out / name).read_text() == "somebody's"


RECORD = {"schema": "filmhand-record/1", "film": {"files": {}, "sha256": {}}}


@pytest.mark.parametrize(
    ("text", "stem"),
    [
        (json.dumps(RECORD), "a"),
        (json.dumps(RECORD | {"schema": "filmhand-job/1"}), "a-2"),
        (json.dumps(RECORD | {"schema": 1}), "a-2"),
        (json.dumps(RECORD | {"film": {"files": {"pdf": "a.pdf"}, "sha256": {}}}), "a-2"),
        (json.dumps(RECORD | {"film": []}), "a-2"),
        ("[]", "a-2"),
        ("{", "a-2"),
    ],
)
def test_only_a_whole_record_makes_its_name_ours(
    maker: FilmMaker, art: Art, out: Path, text: str, stem: str
) -> None:
    (out / "a.json").write_text(text)
    (made,) = maker.make(art("a.jpg"), profile_of(), out)
    assert made.files[-1] == out / f"{stem}.json"


def test_art_of_one_name_in_several_folders_gets_films_of_its_own(
    workers: Workers, art: Art, out: Path
) -> None:
    arts = [art("a.png"), art("A.jpg"), art("a.tif", "pages")]
    with FilmMaker() as maker:
        told = [films for _, films in maker.make_all(arts, profile_of(), out)]
    stems = [film.files[0].stem for films in told if isinstance(films, list) for film in films]
    assert stems == ["a", "A-2", "a-3-p01", "a-3-p02"]


def test_a_set_has_one_stem_and_one_proof_of_its_own(workers: Workers, art: Art, out: Path) -> None:
    for _ in range(2):  # what an earlier run wrote is replaced
        with FilmMaker() as maker:
            made = maker.make(art("a.jpg", "set"), profile_of(), out)
    assert isinstance(made, list)
    stems = ["a-1-red", "a-2-blue"]
    assert [one.record["film"]["files"]["pdf"] for one in made] == [f"{stem}.pdf" for stem in stems]
    assert out / "a.proof.jpg" in [file for one in made for file in one.files]
    assert (out / "a.proof.jpg").read_bytes().startswith(b"proof of set")
    assert {path.name for path in out.glob("*.proof.jpg")} == {
        f"{stem}.proof.jpg" for stem in ("a", *stems)
    }


def test_the_proof_of_a_set_replaces_no_file_of_others(
    workers: Workers, art: Art, out: Path
) -> None:
    (out / "a.proof.jpg").write_bytes(b"somebody's")
    with FilmMaker() as maker:
        made = maker.make(art("a.jpg", "set"), profile_of(), out)
    assert isinstance(made, list) and made[0].files[1].stem == "a-2-1-red"
    assert (out / "a.proof.jpg").read_bytes() == b"somebody's"


def test_the_command_says_a_note_of_all_films_once(
    workers: Workers, art: Art, tmp_path: Path
) -> None:
    done = run(tmp_path, art("a.png", "set"), "--out", tmp_path)
    assert done.stderr.splitlines() == ["a.png: n"]


def test_art_that_lies_where_the_films_go_is_no_film(workers: Workers, art: Art, out: Path) -> None:
    """Not even one that an earlier run made, and not before its turn comes."""
    profile = profile_of()
    with FilmMaker() as maker:
        maker.make(art("a.jpg"), profile, out)
    film = (out / "a.png").read_bytes()
    with FilmMaker() as maker:
        told = dict(maker.make_all([art("a.jpg"), out / "a.png"], profile, out))
    stems = [made[0].files[0].stem for made in told.values() if isinstance(made, list)]
    assert stems == ["a-2", "a-3"]
    assert (out / "a.png").read_bytes() == film


def test_for_one_art_a_process_of_its_own_is_started_ahead(
    workers: Workers, art: Art, out: Path
) -> None:
    with FilmMaker(arts=1) as maker:
        maker.make(art("a.png"), profile_of(), out)
        maker.make(art("b.png"), profile_of(), out)
        (ahead,) = workers.ahead
        first, second = (request.scratch for request, _ in workers.asked)
    assert first == ahead.folder != second
    assert ahead.told == []  # whoever asks it sees to its end
    with pytest.raises(Refused), FilmMaker(arts=1) as maker:
        maker.make(out / "none.png", profile_of(), out)
    assert workers.ahead[1].told == ["killed", "seen to its end"]
    assert workers.forks.told == ["close"]  # the second one had no need of any


def test_a_process_that_waits_already_gets_the_art(
    workers: Workers, art: Art, out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    waiting = Ahead(out)
    given: list[Any] = []

    def run(request: JobRequest, *, limits: WorkerLimits, start: Any) -> JobResult:
        given.append(start(request.scratch))
        return JobResult([])

    monkeypatch.setattr(module.ahead, "take_waiting", [None, waiting].pop)
    monkeypatch.setattr(module, "run_in_worker", run)
    with FilmMaker(arts=1) as maker:
        maker.make(art("a.png"), profile_of(), out)
    assert given == [waiting]
    assert workers.ahead == []


# --- tickets and masks --------------------------------------------------------------------------


def test_tickets_and_masks_beside_art_are_no_art(art: Art) -> None:
    art("a.png")
    assert is_companion(art("a.png.ticket.yaml"))
    assert is_companion(art("A.PNG.clear.png"))
    assert not is_companion(art("b.png.ticket.yaml"))  # alone
    assert not is_companion(art("logo.clear.png"))
    assert not is_companion(art("a.png"))


def test_of_two_names_that_differ_in_capitals_neither_is_meant(
    maker: FilmMaker, workers: Workers, art: Art, out: Path
) -> None:
    path = art("a.png")
    for name in ("A.png.ticket.yaml", "a.PNG.ticket.yaml"):
        art(name)
    maker.make(path, profile_of(), out)
    assert workers.asked[-1][0].ticket is None
    right = art("a.png.ticket.yaml")
    maker.make(path, profile_of(), out)
    assert workers.asked[-1][0].ticket == right


def test_a_folder_of_a_tickets_name_is_none(
    maker: FilmMaker, workers: Workers, art: Art, out: Path
) -> None:
    path = art("a.png")
    (path.parent / "A.png.ticket.yaml").mkdir()
    maker.make(path, profile_of(), out)
    assert workers.asked[-1][0].ticket is None


def test_a_name_too_long_for_a_ticket_has_none(
    maker: FilmMaker, workers: Workers, art: Art, out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = art("x" * 251 + ".png")
    maker.make(path, profile_of(), out)
    assert (workers.asked[-1][0].ticket, workers.asked[-1][0].mask) == (None, None)

    def fails(path: Path) -> bool:
        raise OSError(errno.EIO, "broken")

    monkeypatch.setattr(Path, "is_file", fails)
    with pytest.raises(OSError, match="broken"):
        is_companion(Path("a.png.ticket.yaml"))


def test_a_ticket_without_the_arts_ending_is_told(maker: FilmMaker, art: Art, out: Path) -> None:
    path = art("a.png")
    ticket = art("a.ticket.yaml")
    with pytest.raises(Refused, match=r"Beside this art lies a\.ticket\.yaml") as refused:
        maker.make(path, profile_of(), out)
    assert refused.value.reason is Reason.BAD_TICKET
    assert maker.make(art("b"), profile_of(), out)  # has no ending itself
    art("a.png.ticket.yaml")
    assert maker.make(path, profile_of(), out)  # has its own
    (path.parent / "a.png.ticket.yaml").unlink()
    (path.parent / "a").touch()
    assert maker.make(path, profile_of(), out)  # is the ticket of another
    (path.parent / "a").unlink()
    ticket.unlink()
    assert maker.make(path, profile_of(), out)


# --- refusals and failures ----------------------------------------------------------------------


def test_what_is_no_file_is_refused_before_anything_is_asked(
    maker: FilmMaker, workers: Workers, out: Path
) -> None:
    for path in (out, out / "gone.png"):
        with pytest.raises(Refused, match=re.escape(f"{path} is not there or is not")) as refused:
            maker.make(path, profile_of(), out)
        assert refused.value.reason is Reason.NOT_ART
    assert workers.asked == []


def test_a_crash_is_the_arts_and_a_bug_is_ours(
    workers: Workers, art: Art, out: Path, tmp_path: Path
) -> None:
    arts = [art("a.png", "crash"), art("b.png", "bug"), art("c.png")]
    with FilmMaker() as maker:
        told = list(maker.make_all(arts, profile_of(), out))
    assert [path for path, _ in told] == arts
    crash, bug, films = (films for _, films in told)
    assert isinstance(crash, Refused)
    assert (crash.reason, crash.found) == (Reason.CRASHED, Quantity(1, "failed tries"))
    assert crash.say == "This file stopped the program that reads it: it ended by SIGSEGV."
    assert isinstance(bug, ProgramFailed)
    assert "over “b.png” (KeyError: x)" in str(bug)
    assert "Traceback\nKeyError: x" in (tmp_path / "logs/filmhand/commands.log").read_text()
    assert isinstance(films, list) and len(films) == 1


# --- several on a sheet -------------------------------------------------------------------------


GANG = "gang: {wait: 5 min, most: 3}\n"


def test_several_art_files_share_sheets_until_one_is_left(
    workers: Workers, art: Art, out: Path
) -> None:
    arts = [art(f"{letter}.jpg") for letter in "abcde"]
    with FilmMaker() as maker:
        told = {path.name: films for path, films in maker.make_all(arts, profile_of(GANG), out)}
    assert workers.sheets == [["a.jpg", "b.jpg", "c.jpg"], ["c.jpg", "d.jpg", "e.jpg"]]
    assert list(told) == ["a.jpg", "b.jpg", "c.jpg", "d.jpg", "e.jpg"]
    films: list[Any] = [made[0] for made in told.values() if isinstance(made, list)]
    assert [[path.name for path in film.files] for film in films] == [
        ["a-and-1-more.pdf", "a-and-1-more.png", "a-and-1-more.proof.jpg", "a-and-1-more.json"],
        ["b.proof.jpg", "b.json"],
        ["c-and-1-more.pdf", "c-and-1-more.png", "c-and-1-more.proof.jpg", "c-and-1-more.json"],
        ["d.proof.jpg", "d.json"],
        ["e.pdf", "e.png", "e.proof.jpg", "e.json"],
    ]
    sheet = {"pdf": "a-and-1-more.pdf", "png": "a-and-1-more.png"}
    assert films[0].record["film"]["files"] == films[1].record["film"]["files"] == sheet
    assert films[0].record["gang"] == {"with": ["others"], "film": "a-and-1-more.pdf"}
    assert films[1].record["gang"] == films[0].record["gang"]
    assert "gang" not in films[4].record
    request, limits = workers.asked[0]
    assert limits == WorkerLimits(seconds=420.0, memory=2**30)
    assert request.out.parent == request.scratch.parent


def test_those_who_share_no_sheet_are_made_alone_or_refused(
    workers: Workers, art: Art, out: Path
) -> None:
    arts = [art("a.jpg", "pages"), art("b.jpg", "refuse"), art("c.jpg"), art("d.jpg")]
    with FilmMaker() as maker:
        told = list(maker.make_all(arts, profile_of("gang: 5 min\n"), out))
    assert [path.name for path, _ in told] == ["c.jpg", "d.jpg", "b.jpg", "a.jpg"]
    assert isinstance(told[2][1], Refused)
    assert isinstance(told[3][1], list) and len(told[3][1]) == 2


def test_a_sheet_that_breaks_is_made_one_by_one(workers: Workers, art: Art, out: Path) -> None:
    arts = [art(f"{letter}.jpg", "crash" if letter == "b" else "art") for letter in "abcd"]
    with FilmMaker() as maker:
        told = dict(maker.make_all(arts, profile_of(GANG), out))
    assert workers.sheets == [["a.jpg", "b.jpg", "c.jpg"]]
    assert [isinstance(told[path], list) for path in arts] == [True, False, True, True]
    crash = told[arts[1]]
    assert isinstance(crash, Refused) and crash.reason is Reason.CRASHED


def test_what_is_not_there_or_has_a_wrong_ticket_is_on_no_sheet(
    workers: Workers, art: Art, out: Path
) -> None:
    arts = [art("a.jpg"), out / "gone.jpg", art("b.jpg"), art("c.jpg"), art("d.jpg")]
    art("b.ticket.yaml")
    with FilmMaker() as maker:
        told = dict(maker.make_all(arts, profile_of(GANG), out))
    assert workers.sheets == [["a.jpg", "c.jpg", "d.jpg"]]
    assert [path.name for path, films in told.items() if isinstance(films, Refused)] == [
        "gone.jpg",
        "b.jpg",
    ]
    assert len(told) == 5
    workers.sheets.clear()
    with FilmMaker() as maker:
        told = dict(maker.make_all([out / "gone.jpg", out / "away.jpg"], profile_of(GANG), out))
    assert workers.sheets == [] and len(told) == 2


def test_one_art_alone_needs_no_sheet(workers: Workers, art: Art, out: Path) -> None:
    with FilmMaker() as maker:
        ((_, films),) = maker.make_all([art("a.jpg")], profile_of(GANG), out)
    assert workers.sheets == []
    assert isinstance(films, list) and films[0].files[0] == out / "a.pdf"


# --- the command --------------------------------------------------------------------------------


def run(tmp_path: Path, *words: object, more: str = "") -> Any:
    (tmp_path / "small.yaml").write_text(PROFILE + more)
    given = ["make", *words, "--profile", tmp_path / "small.yaml"]
    return CliRunner().invoke(main, list(map(str, given)))


def test_the_command_names_its_files_and_says_its_notes(
    workers: Workers, art: Art, tmp_path: Path
) -> None:
    out = tmp_path / "new" / "films"
    ticket = art("a.png.ticket.yaml")
    done = run(tmp_path, art("a.png"), ticket, art("b.png"), "--out", out)
    assert done.exit_code == 0
    ends = ("pdf", "png", "proof.jpg", "json")
    assert done.stdout.splitlines() == [str(out / f"{name}.{end}") for name in "ab" for end in ends]
    assert done.stderr.splitlines() == ["a.png: n", "b.png: n"]
    assert workers.forks.told == ["warm", "close"]


def test_the_command_tells_programs_of_all_films(
    workers: Workers, art: Art, tmp_path: Path
) -> None:
    done = run(tmp_path, art("a.png"), art("b.png", "refuse"), art("c.png", "pages"),
               "--out", tmp_path, "--json")  # fmt: skip
    assert done.exit_code == 1
    told = json.loads(done.stdout)
    assert [one["film"]["files"]["pdf"] for one in told] == ["a.pdf", "c-p01.pdf", "c-p02.pdf"]
    assert done.stderr == "b.png: It is bare. (found 0 %, needed 1 %) Draw.\n"


def test_the_command_says_failures_without_figures_and_bugs_without_a_name(
    workers: Workers, art: Art, tmp_path: Path
) -> None:
    arts = [art("a.png", "crash"), art("b.png", "bug"), tmp_path / "gone.png"]
    done = run(tmp_path, *arts, "--out", tmp_path)
    assert (done.exit_code, done.stdout) == (1, "")
    crash, bug, gone = done.stderr.splitlines()
    assert crash.startswith("a.png: This file stopped") and "(found 1 failed try)" in crash
    assert bug.startswith("Filmhand itself failed over “b.png”")
    assert gone == (
        f"gone.png: {tmp_path / 'gone.png'} is not there or is not a file. Give the path of an "
        "image file."
    )


def test_films_go_to_this_folder_if_no_other_is_named(
    workers: Workers, art: Art, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    done = run(tmp_path, art("a.png"))
    assert done.stdout.splitlines()[0] == "a.pdf"
    assert (tmp_path / "here" / "a.pdf").is_file()
