"""Wishes in the name of a file, for people who will never write a ticket.

What stands in square brackets is read as wishes, with commas between them or without:
``logo [7 in].png``, ``poster [35 lpi mirrored].jpg``. Brackets that hold anything like a wish are
understood whole or refused, never passed over; a pair in which nothing looks like one, such as
``photo [1].png`` or ``logo [final].png``, is part of the name.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from filmhand.errors import Reason, Refused
from filmhand.language import and_list
from filmhand.profile.read.document import Path, Plain
from filmhand.profile.ticket.brackets import NameBrackets, groups_in, named
from filmhand.profile.ticket.ticket_words import TicketRefusal, WishFault
from filmhand.profile.ticket.wish_reading import (
    LONGEST_READ,
    likely_meant,
    looks_like_wishes,
    parts_of,
    readings,
)
from filmhand.profile.ticket.wish_words import Wish, box_wish, normal


def wishes_in(name: str) -> tuple[Wish, ...]:
    """The wishes in a file's name, in the order given.

    Raises
    ------
    Refused
        ``bad-ticket`` where brackets hold anything like a wish that is not understood whole, or
        two wishes of which only one can be; with the name to use instead.

    >>> [wish.words for wish in wishes_in("logo [7in 35 lpi].png")]
    ['width 7 in', '35 lpi']
    >>> wishes_in("photo [1] [final].png")
    ()
    """
    wishes: list[Wish] = []
    for group in groups_in(name):
        text = normal(group.inside)
        read = readings(text)
        if len(read) == 1 and group.whole:
            wishes += read[0]
        elif len(read) > 1:
            raise _two_ways(name, group, read)
        elif read or (group.opened and looks_like_wishes(text[:LONGEST_READ])):
            raise _not_understood(name, group)
    return _agreeing(name, _boxed(wishes))


def as_settings(wishes: Sequence[Wish]) -> dict[str, Plain]:
    """The wishes as a ticket would have them."""
    out: dict[str, Plain] = {}
    for wish in wishes:
        group, *inner = map(str, wish.path)
        if inner:
            inside = out.setdefault(group, {})
            assert isinstance(inside, dict)
            inside[inner[0]] = wish.value
        else:
            out[group] = wish.value
    return out


def name_without(name: str, path: Path) -> str:
    """The name without its wishes for one key, and the others as they are best written."""
    return _keeping(name, path)


def name_with(name: str, wish: Wish) -> str:
    """The name with this wish in place of those for its key, and the others as best written."""
    texts: dict[NameBrackets, str] = {}
    for group in groups_in(name):
        read = readings(normal(group.inside))
        if read:
            texts[group] = _bracketed([wish if one.path == wish.path else one for one in read[0]])
    return named(name, texts)


def _keeping(name: str, path: Path, only: Wish | None = None) -> str:
    """The name with all its wishes, but of those for one key at most this one."""
    texts: dict[NameBrackets, str] = {}
    for group in groups_in(name):
        read = readings(normal(group.inside))
        if read:
            texts[group] = _bracketed([one for one in read[0] if one.path != path or one == only])
    return named(name, texts)


def _boxed(wishes: Sequence[Wish]) -> list[Wish]:
    """A width and a height that are asked for apart are a box that the art fits into."""
    fits = {wish.value: wish for wish in wishes if wish.path == ("art", "fit")}
    sides = {side: length for side, _, length in (str(fit).partition(" ") for fit in fits)}
    if len(fits) != 2 or set(sides) != {"width", "height"}:
        return list(wishes)
    boxed = box_wish(sides["width"], sides["height"])
    return [boxed if wish.path == ("art", "fit") else wish for wish in wishes]


def _agreeing(name: str, wishes: Sequence[Wish]) -> tuple[Wish, ...]:
    taken: dict[Path, Wish] = {}
    for wish in wishes:
        other = taken.setdefault(wish.path, wish)
        if other.value != wish.value:
            first, second = (_keeping(name, wish.path, only) for only in (other, wish))
            raise TicketRefusal.TWO_WISHES.refused(
                name=name, one=other.words, other=wish.words, first=first, second=second
            )
    return tuple(taken.values())


def _can_all_be(wishes: Sequence[Wish]) -> bool:
    return 0 < len(wishes) == len({wish.path for wish in wishes})


def _bracketed(wishes: Sequence[Wish]) -> str:
    return f"[{', '.join(wish.written for wish in wishes)}]" if wishes else ""


def _two_ways(name: str, group: NameBrackets, read: Sequence[Sequence[Wish]]) -> Refused:
    first, second = (named(name, {group: _bracketed(wishes)}) for wishes in read[:2])
    one, other = (", ".join(wish.words for wish in wishes) for wishes in read[:2])
    return TicketRefusal.TWO_READINGS.refused(
        name=name, inside=group.inside, one=one, other=other, first=first, second=second
    )


def _not_understood(name: str, group: NameBrackets) -> Refused:
    """The refusal: which part is no wish, and the names that would do."""
    parts = parts_of(normal(group.inside)[:LONGEST_READ])
    wishes = [part.wish for part in parts if part.wish]
    strange = [part.text for part in parts if not part.wish]
    meant = [likely_meant(text) for text in strange]
    told = and_list([f"'{group.as_written(text)}'" for text in strange]) if strange else ""
    if strange and wishes:
        told = WishFault.BESIDE_OTHERS.say(told=told)
    apart = [_bracketed(wishes), *(f"({group.as_written(text)})" for text in strange)]
    as_name = named(name, {group: f"({group.inside.strip()})"})
    parted = named(name, {group: " ".join(filter(None, apart))})
    said, guessed = WishFault.NO_WISH, ""
    if strange and all(meant) and _can_all_be([*wishes, *filter(None, meant)]):
        guess = named(name, {group: _bracketed([*wishes, *filter(None, meant)])})
        guessed = ", ".join(one.written for one in meant if one)
        said = WishFault.NO_WISH_MEANT
        do = WishFault.NAME_GUESS.say(guess=guess, plain=as_name)
    elif _can_all_be(wishes) and (not strange or re.search(r"\d", group.inside)):
        do = WishFault.NAME_PARTED.say(parted=parted, plain=as_name)
    else:
        do = WishFault.NAME_PLAIN.say(plain=as_name)
    if set(re.findall(r"[a-z]+", " ".join(strange))) & {"dpi", "ppi", "mesh"}:
        said = WishFault.NO_WISH_OF_PROFILE
    if not strange:
        return Refused(Reason.BAD_TICKET, WishFault.BRACKET_MISSING.say(name=name), do)
    return Refused(
        Reason.BAD_TICKET,
        said.say(name=name, told=told, meant=guessed),
        f"{do} {WishFault.SUCH_AS.say()}",
    )
