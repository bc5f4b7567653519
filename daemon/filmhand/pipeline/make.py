"""One art to its films: read, plan, lay down, mend and judge, mark, write, read back, record."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

from filmhand.art.files.decode import check_page_count
from filmhand.art.files.open_art import count_pages
from filmhand.digest import sha256_of
from filmhand.errors import Reason, Refused
from filmhand.language import and_list
from filmhand.pipeline.make_words import MakeNote
from filmhand.pipeline.opening import load_rest, read_wished
from filmhand.pipeline.wished_page import WishedPage
from filmhand.profile.model import Profile
from filmhand.profile.ticket.pages import MOST_PAGE
from filmhand.profile.ticket.ticket import (
    Ticket,
    copies_told,
    ending_of,
    load_ticket,
    notes_of,
    wished_by_name,
)
from filmhand.request import FinishedFilm, FinishedSet, JobRequest, JobResult, Step, TellProgress


def make_films(request: JobRequest) -> JobResult:
    """All films of one art, or a refusal.

    Raises
    ------
    Refused
        where the art gets no film; nothing in ``request.out`` counts then
    OSError
        where the disk or the rights fail
    """
    profile, ticket = wished(request)
    count, pages = chosen_pages(request, profile, ticket)
    if ticket.pages is not None:  # the limit is for those that are made
        limits = replace(profile.limits, pages=max(count, profile.limits.pages))
        profile = replace(profile, limits=limits)
    if profile.inks is not None and ticket.pages is None:
        from filmhand.pipeline.separation.make_set import pages_of_sets  # noqa: PLC0415

        count, pages = pages_of_sets(request, profile, count, pages)
    digest = sha256_of(request.art)
    films: list[FinishedFilm] = []
    sets: list[FinishedSet] = []
    left_out: list[tuple[int, Refused]] = []
    for number, page in enumerate(pages):
        tell = partial(_tell_of_one, request.progress, number, len(pages))
        one = replace(request, progress=tell)
        try:
            asked = WishedPage(one, profile, ticket, digest, page, len(pages))
            if profile.inks is not None:
                from filmhand.pipeline.separation.make_set import make_set  # noqa: PLC0415

                of_set, together = make_set(asked, count)
                films += of_set
                sets.append(together)
            else:
                films += _make_page(asked, count)
        except Refused as refusal:
            if len(pages) == 1 or refusal.reason is Reason.BAD_TICKET:
                raise  # a ticket is wrong for all pages
            left_out.append((page, refusal))
    if not films:
        raise _none_of(left_out)
    tell_left_out(films, left_out)
    return JobResult(films, sets)


def _tell_of_one(tell: TellProgress, number: int, pages: int, step: Step, behind: float) -> None:
    """Tell how far all pages are, by how far one of them is."""
    tell(step, (number + behind) / pages)


def chosen_pages(request: JobRequest, profile: Profile, ticket: Ticket) -> tuple[int, list[int]]:
    """How many pages the art has, and which of them, from 0, become films.

    Raises
    ------
    Refused
        where there are more than the profile allows, or fewer than the ticket asks for
    """
    limits = profile.limits
    if ticket.pages is None:
        count = count_pages(request.art, name=request.name, limits=limits)
        return count, list(range(count))
    all_pages = replace(limits, pages=MOST_PAGE)
    count = count_pages(request.art, name=request.name, limits=all_pages)
    pages = ticket.pages.of(count, name=request.name)
    check_page_count(len(pages), name=request.name, limits=limits)
    return count, pages


def _none_of(left_out: list[tuple[int, Refused]]) -> Refused:
    """The refusal of art of which no page became a film: that of its first one."""
    page, first = left_out[0]
    numbers = ", ".join(str(page + 1) for page, _ in left_out[:20])
    say = MakeNote.NO_PAGE.say(pages=numbers, page=page + 1, say=first.say)
    return Refused(first.reason, say, first.do, found=first.found, needed=first.needed)


def tell_left_out(films: list[FinishedFilm], left_out: list[tuple[int, Refused]]) -> None:
    """Puts what became of the other pages into the record of each film, and the first's notes.

    Many pages may fail alike, so those of one reason are noted together.
    """
    for film in films:
        film.record["left_out"] = [
            {"page": page + 1, "reason": str(refusal.reason), "say": refusal.say}
            for page, refusal in left_out
        ]
    alike: dict[Reason, list[tuple[int, Refused]]] = {}
    for page, refusal in left_out:
        alike.setdefault(refusal.reason, []).append((page + 1, refusal))
    for pages in alike.values():
        page, refusal = pages[0]
        if len(pages) == 1:
            said = MakeNote.PAGE_LEFT_OUT.say(page=page, say=refusal.say, do=refusal.do)
        else:
            numbers = pages_text([page for page, _ in pages])
            told = MakeNote.PAGES_LEFT_OUT
            if len({(refusal.say, refusal.do) for _, refusal in pages}) > 1:
                told = MakeNote.PAGES_LEFT_OUT_ALIKE
            said = told.say(pages=numbers, page=page, say=refusal.say, do=refusal.do)
        films[0].record["notes"].append(said)


def pages_text(pages: list[int]) -> str:
    """Numbers of pages that rise as people write them.

    >>> pages_text([2, 4, 5, 6, 9, 10])
    '2, 4 to 6, 9 and 10'
    """
    runs: list[list[int]] = []
    for page in pages:
        if runs and runs[-1][-1] + 1 == page:
            runs[-1].append(page)
        else:
            runs.append([page])
    words: list[str] = []
    for run in runs:
        if len(run) > 2:
            words.append(MakeNote.PAGES_FROM_TO.say(first=run[0], last=run[-1]))
        else:
            words += map(str, run)
    return and_list(words)


def wished(request: JobRequest) -> tuple[Profile, Ticket]:
    """The profile with the wishes in the art's name, and over them those of its ticket."""
    profile, ticket = wished_by_name(request.name, profile=request.profile)
    if request.ticket is not None:
        file = request.name + ending_of(request.ticket.name)
        profile, ticket = load_ticket(request.ticket, profile=profile, file=file, base=ticket)
    return profile, replace(ticket, told=notes_of(ticket) + copies_told(ticket, profile))


def _make_page(wished: WishedPage, pages: int) -> list[FinishedFilm]:
    """The films of one page; it is read before what makes them is there."""
    rare = wished.ticket.patch is not None or wished.ticket.trial is not None
    read = None if rare else read_wished(wished)
    load_rest()
    from filmhand.pipeline.finished import films_of_page  # noqa: PLC0415 - loaded by load_rest

    return films_of_page(wished, pages, read)
