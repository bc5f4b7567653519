"""What is asked of a job for one page of its art."""

from __future__ import annotations

from filmhand.profile.model import Profile
from filmhand.profile.ticket.ticket import Ticket
from filmhand.request import JobRequest
from filmhand.values import dataclass


@dataclass(frozen=True, slots=True)
class WishedPage:
    """One page of art, and what is wished for it.

    Attributes
    ----------
    request : the job; its own profile is not read
    profile : what to make, with the ticket's wishes in place
    ticket : what else the ticket says
    art_sha256 : of the art's file, for the record
    page : which one, from 0
    pages : how many of the art the job makes
    """

    request: JobRequest
    profile: Profile
    ticket: Ticket
    art_sha256: str
    page: int = 0
    pages: int = 1


def page_number(wished: WishedPage, pages: int) -> tuple[int | None, str]:
    """The number of a page, None where the art has that one only, and what its films' names have.

    ``pages`` is how many the art has.
    """
    if pages == 1:
        return None, ""
    return wished.page + 1, f"-p{wished.page + 1:02d}"
