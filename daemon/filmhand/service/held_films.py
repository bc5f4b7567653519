"""What people ask about held films: let one go, give one up, how many sheets were used."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any

from filmhand.disk import atomic, file_names
from filmhand.disk.folders import Folders
from filmhand.errors import FilmhandError
from filmhand.jobs.holding import film_of, held_proofs
from filmhand.jobs.job import Job, State
from filmhand.jobs.requests import Asked, ask
from filmhand.jobs.sheets import counted_since
from filmhand.peers.survey import unfinished_jobs
from filmhand.profile.model import Profile
from filmhand.service.service_words import AnswerWord
from filmhand.service.status import now_or_later
from filmhand.values import dataclass


@dataclass(frozen=True, slots=True)
class HeldFilms:
    """Where such wishes are taken.

    Attributes
    ----------
    roots, profiles : the folders of all profiles by name, and the profiles that are right
    running : whether the service runs now
    """

    roots: Mapping[str, Folders]
    profiles: Mapping[str, Profile]
    running: bool

    def release(self, name: str) -> str:
        """Let a held film go on, by moving its proof; a sentence, or FilmhandError."""
        folders, job = self._find(name)
        proof = held_proofs(job)[0].name
        source = folders.held.joinpath(*job.sub, proof)
        target = folders.release.joinpath(*job.sub, proof)
        folders.make_holding()
        target.parent.mkdir(parents=True, within=folders.top, exist_ok=True)
        try:
            atomic.publish_no_replace(source, target)
        except FileNotFoundError:
            if not target.is_file():
                missing = AnswerWord.PROOF_MISSING.say(film=film_of(job))
                raise FilmhandError(missing) from None
        except FileExistsError:
            shown, folder = file_names.shown(proof), folders.release
            in_the_way = AnswerWord.PROOF_IN_THE_WAY.say(name=shown, folder=folder)
            raise FilmhandError(in_the_way) from None
        done = AnswerWord.RELEASED.say(film=film_of(job), profile=job.profile)
        return now_or_later(done, running=self.running)

    def discard(self, name: str, now: datetime) -> str:
        """Give a held film up, so that its art goes to rejected/; a sentence, or FilmhandError."""
        folders, job = self._find(name)
        ask(folders, Asked.DISCARD, job.id, now)
        row = AnswerWord.ALL_GIVEN_UP if job.gang.members else AnswerWord.GIVEN_UP
        done = row.say(film=film_of(job), profile=job.profile)
        return now_or_later(done, running=self.running)

    def usage(self, since: str = "") -> list[dict[str, Any]]:
        """Every job whose sheets were counted, from that day on (as 2026-03-01), oldest first."""
        rows = [
            {
                "date": day,
                "person": one.person,
                "profile": profile,
                "film": one.film,
                "sheets": one.sheets,
            }
            for profile, folders in self.roots.items()
            for day, one in counted_since(folders, since)
        ]
        return sorted(rows, key=lambda row: str(row["date"]))

    def uncounted(self) -> list[str]:
        """The profiles whose films are not counted."""
        return [
            name
            for name, profile in sorted(self.profiles.items())
            if not (profile.print or profile.approve or profile.budget)
        ]

    # --- finding -----------------------------------------------------------------------------

    def _find(self, name: str) -> tuple[Folders, Job]:
        wanted = file_names.compared(name)
        found = [
            (folders, job)
            for profile, folders in self.roots.items()
            for job in _held_in(folders)
            if wanted in _ways_to_name(profile, job)
        ]
        if not found:
            raise FilmhandError(AnswerWord.NOT_HELD.say(name=name))
        if len(found) > 1:
            films = sorted(f"{job.profile}/{film_of(job)} ({job.id})" for _, job in found)
            called = ", ".join(films[:10])
            raise FilmhandError(AnswerWord.SEVERAL_HELD.say(name=name, films=called))
        return found[0]


def _held_in(folders: Folders) -> Iterator[Job]:
    for job in unfinished_jobs(folders.hidden):  # the service says what is wrong with others
        if job.state is State.HELD and job.decision.refusal is None:
            yield job


def _ways_to_name(profile: str, job: Job) -> set[str]:
    """The film's name, its proofs', its art's and the job, the first three also with folders."""
    sub = [*map(file_names.shown, job.sub)]
    arts = [str(film.get("art", job.taken.art)) for film in job.publication.films]
    own = {job.publication.stem, *(item.name for item in held_proofs(job)), *arts}
    own |= {file_names.split_suffix(one)[0] for one in arts}
    ways = {job.id}
    for one in map(file_names.shown, own):
        ways |= {one, "/".join((*sub, one)), "/".join((profile, *sub, one))}
    return {file_names.compared(one) for one in ways}
