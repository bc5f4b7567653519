"""What would pass in place of a film of a set that was refused: changes tried with the whole set.

The families of changes are those of films alone (:mod:`filmhand.pipeline.verdict.remedies`). What
an ink has for itself is changed at the ink, and all else for the whole set, so each try is of all
films.
"""

from __future__ import annotations

import time
from dataclasses import replace

from filmhand.errors import Refused
from filmhand.pipeline.separation.color_page import open_color_page
from filmhand.pipeline.separation.judged_set import FilmFailed, judged_set, named_after_ink
from filmhand.pipeline.separation.planning.set_plan import FilmOfSet
from filmhand.pipeline.separation.set_words import SetOffer
from filmhand.pipeline.verdict.refusals import CheckFailed
from filmhand.pipeline.verdict.remedies import (
    MOST_OFFERS,
    MOST_TRIES_A_FAMILY,
    SHARE_OF_TIME,
    families,
    has_thin_pieces,
)
from filmhand.pipeline.verdict.ways_to_ask import ProfileChange, how_to_ask, setting_text
from filmhand.pipeline.wished_page import WishedPage
from filmhand.profile.model import Profile

_OF_INK = {("lpi",), ("mesh",), ("angle",)}


def refusal_with_offers(wished: WishedPage, failed: FilmFailed) -> Refused:
    """The refusal of a set by one of its films, with up to two changes by which it was really made.

    Parameters
    ----------
    wished : the page that was refused
    failed : its refusal
    """
    film = failed.work.of_set
    assert film is not None
    offers = _offers(wished, failed.failed, failed.work.profile, film)
    return named_after_ink(failed.failed.with_offers(offers), film)


def _offers(wished: WishedPage, failed: CheckFailed, own: Profile, film: FilmOfSet) -> list[str]:
    until = time.monotonic() + SHARE_OF_TIME * wished.profile.limits.seconds
    offers: list[str] = []
    for family in families(failed, own):
        for tried, change in enumerate(family):
            if tried == MOST_TRIES_A_FAMILY or time.monotonic() > until:
                break
            changed, at_ink = _of_set(change, wished.profile, film.ink.name)
            if _passes(replace(wished, profile=changed)):
                offers.append(_asked_for(change, wished, film.ink.name if at_ink else ""))
                break
        if len(offers) == MOST_OFFERS:
            break
    return offers


def _of_set(change: ProfileChange, profile: Profile, ink: str) -> tuple[Profile, bool]:
    """The profile of the set with a change of one ink's, and whether it stands at the ink."""
    if change.path in _OF_INK:
        (key,) = change.path
        value = getattr(change.profile, str(key))
        assert profile.inks is not None
        listed = list(profile.inks.listed)
        for place, wish in enumerate(listed):
            if wish.name == ink and getattr(wish, str(key)) is not None:
                listed[place] = replace(wish, **{str(key): value})
                inks = replace(profile.inks, listed=tuple(listed))
                return replace(profile, inks=inks), True
        return replace(profile, **{str(key): value}), False
    # The ink's own press is none of the other inks'.
    tone = replace(change.profile.tone, gain=profile.tone.gain)
    return replace(profile, art=change.profile.art, tone=tone), False


def _asked_for(change: ProfileChange, wished: WishedPage, ink: str) -> str:
    """The change, and what to write where."""
    if not ink:
        return how_to_ask(change, wished)
    in_ticket = "inks" in wished.ticket.raw
    row = SetOffer.AT_INK_OF_TICKET if in_ticket else SetOffer.AT_INK_OF_PROFILE
    setting = setting_text(change.path, change.value, beside={})
    return row.say(change=change.words, setting=setting, ink=ink)


def _passes(wished: WishedPage) -> bool:
    try:
        page = open_color_page(wished)
        with judged_set(wished, page, wished.request.scratch / "bits-tried") as judged:
            return not any(has_thin_pieces(film.work) for film in judged.films)
    except Refused:
        return False
