"""How a person asks for a change that would pass: the file's new name, or the key to write."""

from __future__ import annotations

import json
from collections.abc import Mapping

from filmhand.errors import Refused
from filmhand.pipeline.verdict.verdict_words import OfferWord
from filmhand.pipeline.wished_page import WishedPage
from filmhand.profile.model import Profile
from filmhand.profile.read.document import Path
from filmhand.profile.ticket.brackets import LONGEST_NAME, with_brackets
from filmhand.profile.ticket.wishes import as_settings, name_without, wishes_in
from filmhand.values import dataclass

_MESH: Path = ("mesh",)  # not for one job to choose


@dataclass(frozen=True, slots=True)
class ProfileChange:
    """One change of a profile, and how to ask a person for it.

    Attributes
    ----------
    words : as the beginning of a sentence's part
    profile : the profile with it
    path, value : the key, and what to write there
    wish : what to write in brackets in a name; None where a name cannot ask for it
    """

    words: str
    profile: Profile
    path: Path
    value: str
    wish: str | None = None


def how_to_ask(change: ProfileChange, wished: WishedPage) -> str:
    """The change, and what to write where for it to hold for this art.

    A ticket overrules a name, and a name a profile, so the lowest that would be heard is named. Art
    with a mask or a ticket keeps its name, since theirs go by it.
    """
    request, asked = wished.request, wished.ticket
    if request.ticket is not None and change.path != _MESH:
        setting = setting_text(change.path, change.value, beside=asked.raw)
        return OfferWord.BY_TICKET.say(change=change.words, setting=setting)
    name = None
    if request.mask is None and request.ticket is None and change.wish is not None:
        name = name_asking(request.name, change.path, change.value, change.wish)
    if name is not None and any(wish.path == change.path for wish in asked.wishes):
        return OfferWord.BY_NAME.say(change=change.words, name=name)
    own = json.loads(request.profile.settings)
    setting = setting_text(change.path, change.value, beside=own)
    if name is None:
        return OfferWord.BY_PROFILE.say(change=change.words, setting=setting)
    return OfferWord.BY_NAME_OR_PROFILE.say(change=change.words, name=name, setting=setting)


def setting_text(path: Path, value: str, *, beside: Mapping[str, object]) -> str:
    """A key as one writes it, under its group where that is there already.

    >>> setting_text(("art", "fit"), "width 7 in", beside={})
    'art: {fit: width 7 in}'
    """
    group, *inner = map(str, path)
    if not inner:
        return f"{group}: {value}"
    setting = f"{inner[0]}: {value}"
    there = beside.get(group)
    if isinstance(there, dict) and there.keys() - {inner[0]}:
        return OfferWord.UNDER.say(setting=setting, group=group)
    return f"{group}: {{{setting}}}"


def name_asking(name: str, path: Path, value: str, wish: str) -> str | None:
    """The name with this wish in brackets, in place of what it asked for the same key.

    None where it would be too long, or would not be read as meant.
    """
    new = with_brackets(name_without(name, path), wish)
    if len(new.encode(errors="replace")) > LONGEST_NAME:
        return None
    try:
        settings: object = as_settings(wishes_in(new))
    except Refused:
        return None
    for key in path:
        settings = settings.get(str(key)) if isinstance(settings, dict) else None
    return new if str(settings) == value else None
