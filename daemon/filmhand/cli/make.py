"""``filmhand make``: films without a station, into a folder of the caller's.

Uses the same worker as the service, so that a picture which harms its worker harms nothing else.
"""

from __future__ import annotations

import contextlib
import errno
import json
import os
import shlex
import tempfile
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from filmhand.cli import options
from filmhand.cli.cli_words import CommandWord, MakeRefusal
from filmhand.cli.commands import command, option
from filmhand.cli.help_words import HelpWord
from filmhand.digest import sha256_of
from filmhand.disk.file_names import (
    MASK_END,
    TICKET_ENDS,
    clean_stem,
    companion_of,
    compared,
    numbered,
    split_suffix,
)
from filmhand.disk.folders import user_folder
from filmhand.errors import ExitCode, ProgramFailed, Quantity, Refused
from filmhand.intake.refusals import misnamed
from filmhand.language import speaking
from filmhand.request import FinishedFilm, FinishedSet, GangResult, JobRequest, JobResult
from filmhand.values import dataclass
from filmhand.worker import ahead
from filmhand.worker.cores import threads_within, usable_cores
from filmhand.worker.job_process import StartProcess
from filmhand.worker.parent import WorkerDied, WorkerLimits, run_gang, run_in_worker
from filmhand.worker.process import CHILD, FreshProcess, start_fresh

if TYPE_CHECKING:
    from filmhand.profile.model import Profile
    from filmhand.worker.fork_server import ForkServer


@command(HelpWord.MAKE, "filmhand make poster.jpg --profile profiles/small-sheet.yaml")
@click.argument("art", type=options.PATH, nargs=-1, required=True)
@option(HelpWord.PROFILE_TO_MAKE, "--profile", "profile_file", type=options.PATH)
@option(HelpWord.FILMS_GO, "--out", type=options.PATH, default=Path())
@options.json_option
def make(art: Sequence[Path], profile_file: Path | None, out: Path, *, as_json: bool) -> ExitCode:
    """Make films of art, and tell where they are or why there is none."""
    if profile_file is None:
        line = shlex.join(["filmhand", "make", *map(str, art[:1])])
        raise click.UsageError(CommandWord.NAME_THE_PROFILE.say(line=line))
    results: list[dict[str, Any]] = []
    refused = False
    with FilmMaker(arts=len(art)) as maker, contextlib.ExitStack() as says:
        from filmhand.profile.read.load import load_profile  # noqa: PLC0415

        profile = load_profile(profile_file)
        says.enter_context(speaking(profile.language))
        out.mkdir(parents=True, exist_ok=True)
        arts = [path for path in art if not is_companion(path)]
        making = maker.make_all(arts, profile, out)
        for path, films in options.with_progress(making, CommandWord.MAKING_FILMS, len(arts)):
            if isinstance(films, Refused | ProgramFailed):
                refused = True
                _say_why_not(path.name, films)
                continue
            results += [film.record for film in films]
            if not as_json:
                _tell_of(path.name, films)
    if as_json:
        options.print_json(results)
    return ExitCode.REFUSED if refused else ExitCode.DONE


def _tell_of(name: str, films: Sequence[Made]) -> None:
    """Say where the films are, and what their records note; once what holds for a whole set."""
    said: set[str] = set()
    for film in films:
        for file in film.files:
            click.echo(file)
        for note in film.record["notes"]:
            if film.record.get("set") is None or note not in said:
                options.say_error(f"{name}: {note}")
            said.add(note)


def _say_why_not(name: str, refusal: Refused | ProgramFailed) -> None:
    if isinstance(refusal, ProgramFailed):
        options.say_error(str(refusal))
        return
    from filmhand.page.why_note import quantity_text  # noqa: PLC0415

    found, needed = quantity_text(refusal.found), quantity_text(refusal.needed)
    row = {
        (True, True): CommandWord.NO_FILM_MEASURED,
        (True, False): CommandWord.NO_FILM_FOUND,
        (False, True): CommandWord.NO_FILM_NEEDED,
        (False, False): CommandWord.NO_FILM,
    }[bool(found), bool(needed)]
    options.say_error(
        row.say(name=name, say=refusal.say, do=refusal.do, found=found, needed=needed)
    )


@dataclass(frozen=True, slots=True)
class Made:
    """One film that was made: its record and its files."""

    record: dict[str, Any]
    files: list[Path]


def is_companion(path: Path) -> bool:
    """Whether the path is a ticket or mask of art that lies beside it."""
    belongs = companion_of(path.name)
    return belongs is not None and _named_alike(path.with_name(belongs[0])) is not None


class FilmMaker:
    """Makes films one art after another; use it as a context.

    What makes them is got ready at once, while the profile is still being read: for one art a
    process that loads what that needs, for more of them one that loads all and is forked.
    """

    def __init__(self, *, arts: int = 2) -> None:
        self._folder = tempfile.TemporaryDirectory(prefix="filmhand-")
        self._taken: set[str] = set()
        self._given: set[Path] = set()
        self._ahead: tuple[Path, FreshProcess] | None = None
        if arts == 1:
            inside = self._fresh_folder()
            self._ahead = inside, ahead.take_waiting() or start_fresh(inside / "scratch")
        else:
            self._forks.warm()

    def __enter__(self) -> FilmMaker:
        return self

    def __exit__(self, *error: object) -> None:
        if self._ahead is not None:
            with self._ahead[1] as process:  # waits for its end, and closes its pipes
                process.kill_group()
        if "_forks" in vars(self):
            self._forks.close()
        self._folder.cleanup()

    @cached_property
    def _forks(self) -> ForkServer:
        """What forks jobs, from the first call on; the only job of a command has no need of it."""
        from filmhand.worker.fork_server import ForkServer  # noqa: PLC0415 - with sockets

        return ForkServer()

    def make_all(
        self, arts: Sequence[Path], profile: Profile, out: Path
    ) -> Iterator[tuple[Path, list[Made] | Refused | ProgramFailed]]:
        """The films of each art or its refusal, as they come; together where the profile gangs.

        As :meth:`make`, but a refusal, or a failure of the program, is given and not raised.
        """
        self._given |= {art.resolve() for art in arts}
        waiting = list(arts) if profile.gang is not None else []
        alone = [] if waiting else list(arts)
        while len(waiting) > 1:
            found = self._gang(waiting, profile)
            stem = ""
            for number, film in sorted(found.placed.items()):
                more = f"-and-{len(found.placed) - 1}-more" if not stem else ""
                own = self._free_stem(waiting[number].name, out, [film], more, sheet=stem)
                made = _put(film, own, out, sheet=stem or own, first=not stem)
                stem = stem or own
                yield waiting[number], [made]
            for number, refused in sorted(found.refused.items()):
                yield waiting[number], refused
            alone += [waiting[number] for number in sorted(found.alone)]
            waiting = [waiting[number] for number in sorted(found.left)]
        for art in [*alone, *waiting]:
            try:
                yield art, self.make(art, profile, out)
            except (Refused, ProgramFailed) as failed:
                yield art, failed

    def _gang(self, arts: Sequence[Path], profile: Profile) -> GangResult:
        """What becomes of the art files on one sheet; all go alone where that cannot be made."""
        inside = self._fresh_folder()
        there = [n for n, art in enumerate(arts) if art.is_file() and not _misnamed_ticket(art)]
        limits = WorkerLimits.of(profile)
        requests = [_request(arts[number], profile, inside) for number in there]
        assert profile.gang is not None
        first, later = there[: profile.gang.most], there[profile.gang.most :]
        gone = {number: "" for number in range(len(arts)) if number not in there}
        if not first:
            return GangResult(alone=gone)
        try:
            found = run_gang(requests[: len(first)], limits=limits, start=self._forks.start)
        except (Refused, WorkerDied):
            found = GangResult(alone=dict.fromkeys(range(len(first)), ""))
        return GangResult(
            {first[n]: film for n, film in found.placed.items()},
            {first[n]: refused for n, refused in found.refused.items()},
            {first[n]: why for n, why in found.alone.items()} | gone,
            [first[n] for n in found.left] + later,
        )

    def make(self, art: Path, profile: Profile, out: Path) -> list[Made]:
        """Make the films of one art and put them into ``out``.

        Parameters
        ----------
        art : the file; a ticket and a mask beside it are read as well
        profile : what to make
        out : an existing folder; files that an earlier run wrote under the same names are
            replaced, and others are left alone: the films then are called ``poster-2``

        Raises
        ------
        Refused
            the art gets no film
        EnvironmentTrouble, OSError
            disk or rights failed
        """
        if not art.is_file():
            raise MakeRefusal.NO_FILE.refused(path=art)
        meant = _misnamed_ticket(art)
        if meant is not None:
            raise misnamed(art.name, meant.name)
        inside, start = self._ready()
        request, limits = _request(art, profile, inside), WorkerLimits.of(profile)
        try:
            result = run_in_worker(request, limits=limits, start=start)
        except WorkerDied as died:
            raise why_died(died, art.name) from died
        self._given.add(art.resolve())
        stem = self._free_stem(art.name, out, result.films, sets=result.sets)
        made = [_put(film, stem, out) for film in result.films]
        return _with_proofs(made, result, stem, out)

    def _ready(self) -> tuple[Path, StartProcess]:
        """A folder for a job, and what starts its process there."""
        if self._ahead is None:
            return self._fresh_folder(), self._forks.start
        (inside, process), self._ahead = self._ahead, None
        return inside, lambda folder, *, module=CHILD: process

    def _free_stem(
        self,
        name: str,
        out: Path,
        films: Sequence[FinishedFilm],
        more: str = "",
        *,
        sheet: str = "",
        sets: Sequence[FinishedSet] = (),
    ) -> str:
        """The art's name, numbered past other art of this run and past files that are not ours.

        ``sheet`` as in :func:`_put`: another art has brought the film already.
        """
        stem, count = clean_stem(name) + more, 1
        while True:
            own = numbered(stem, count)
            free = own.casefold() not in self._taken
            free = free and all(_may_show(own, one, films, out, self._given) for one in sets)
            if free and all(_may_write(own, film, out, self._given, sheet) for film in films):
                break
            count += 1
        self._taken.add(own.casefold())
        return own

    def _fresh_folder(self) -> Path:
        inside = Path(tempfile.mkdtemp(dir=self._folder.name))
        for part in ("out", "scratch"):
            (inside / part).mkdir()
        return inside


def _request(art: Path, profile: Profile, inside: Path) -> JobRequest:
    cache = user_folder("XDG_CACHE_HOME", ".cache")
    return JobRequest(
        art=art.resolve(),
        name=art.name,
        profile=profile,
        ticket=_beside(art, *TICKET_ENDS),
        mask=_beside(art, MASK_END),
        out=inside / "out",
        scratch=inside / "scratch",
        threads=threads_within(profile.limits.memory, usable_cores()),
        # Kept between calls, in the user's folder for what may be deleted.
        tiles=None if cache is None else cache / "filmhand" / "tiles",
    )


def _beside(art: Path, *endings: str) -> Path | None:
    named = (_named_alike(art.with_name(art.name + ending)) for ending in endings)
    return next((path.absolute() for path in named if path is not None), None)


def _named_alike(path: Path) -> Path | None:
    """The file of this name, or the only one that differs in capitals or Unicode form alone."""
    try:
        if path.is_file():
            return path
    except OSError as error:
        # With so long a name nothing can lie there.
        if error.errno != errno.ENAMETOOLONG:
            raise
        return None
    wanted = compared(path.name)
    with contextlib.suppress(OSError), os.scandir(path.parent) as entries:
        alike = [one.name for one in entries if compared(one.name) == wanted and one.is_file()]
        if len(alike) == 1:
            return path.with_name(alike[0])
    return None


def _misnamed_ticket(art: Path) -> Path | None:
    """A ticket beside the art that was meant for it and would not be read.

    A mask is not looked for in this way: ``logo.clear.png`` may well be art of its own here.
    """
    stem = split_suffix(art.name)[0]
    if stem == art.name or art.with_name(stem).exists() or _beside(art, *TICKET_ENDS):
        return None
    return _beside(art.with_name(stem), *TICKET_ENDS)


def why_died(died: WorkerDied, name: str) -> Refused | ProgramFailed:
    """Whose fault it was: the program's own where nothing points to the art."""
    how = died.how.strip().splitlines()[-1]
    if died.is_bug:
        return options.program_failed(f"“{name}”", how, died.how)
    return MakeRefusal.STOPS_THE_READER.refused(found=Quantity(1, "failed tries"), how=how)


def _may_write(stem: str, film: FinishedFilm, out: Path, given: set[Path], sheet: str) -> bool:
    """Whether nothing lies under the film's names but what an earlier run wrote there.

    Art may lie there, such as ``logo.png`` of which a PNG film is made.
    """
    name = stem + film.suffix
    record, proof = out / f"{name}.json", out / f"{name}.proof.jpg"
    known = _written_with(record)
    if known is None and (record.exists() or proof.exists()):
        return False
    films = [] if sheet else [out / f"{name}{path.suffix}" for path in film.files.values()]
    if any(path.resolve() in given for path in (record, proof, *films)):
        return False
    return all(
        not path.exists() or (known or {}).get(path.name) == sha256_of(path) for path in films
    )


def _may_show(
    stem: str, one: FinishedSet, films: Sequence[FinishedFilm], out: Path, given: set[Path]
) -> bool:
    """The same of the proof of a set, which an earlier run wrote if it wrote a film of it."""
    proof = out / f"{stem}{one.suffix}.proof.jpg"
    ours = any(_written_with(out / f"{stem}{film.suffix}.json") is not None for film in films)
    return not proof.exists() or (ours and proof.resolve() not in given)


def _written_with(record: Path) -> dict[str, str] | None:
    """The hash of each film that a record names, by its file's name; None if it is no record."""
    try:
        told = json.loads(record.read_bytes())
        if not told["schema"].startswith("filmhand-record/"):
            return None
        film = told["film"]
        return {name: film["sha256"][kind] for kind, name in film["files"].items()}
    except (OSError, ValueError, LookupError, TypeError, AttributeError):
        return None


def _put(film: FinishedFilm, stem: str, out: Path, *, sheet: str = "", first: bool = True) -> Made:
    """Move the files of one film to their names, and complete the record with them.

    A film that several art files share has the name ``sheet``, and is moved with the ``first``.
    """
    name = stem + film.suffix
    record = dict(film.record)
    names = {kind: f"{sheet or name}{path.suffix}" for kind, path in film.files.items()}
    record["film"] = {**record["film"], "files": names}
    if sheet:
        record["gang"] = {**record["gang"], "film": next(iter(names.values()))}
    record["at"] = datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    files = []
    for source, target in [
        *((film.files[kind], out / names[kind]) for kind in names if first),
        (film.proof, out / f"{name}.proof.jpg"),
    ]:
        replace_file(target, source.read_bytes())
        files.append(target)
    target = out / f"{name}.json"
    replace_file(target, (json.dumps(record, indent=2) + "\n").encode())
    return Made(record, [*files, target])


def _with_proofs(made: list[Made], result: JobResult, stem: str, out: Path) -> list[Made]:
    """The films, the first of each set with the proof that shows all of the set."""
    for one in result.sets:
        target = out / f"{stem}{one.suffix}.proof.jpg"
        replace_file(target, one.proof.read_bytes())
        of_it = (film.suffix.startswith(one.suffix) for film in result.films)
        made[list(of_it).index(True)].files.insert(0, target)
    return made


def replace_file(target: Path, data: bytes) -> None:
    """Write whole or not at all: half a film must never lie under a film's name."""
    part = target.with_name(f".{target.name}.part")
    part.write_bytes(data)
    part.replace(target)
