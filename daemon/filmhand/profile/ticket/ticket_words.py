"""What is said of tickets and of wishes in names, one row a sentence or a part of one."""

from __future__ import annotations

from filmhand.errors import Reason, RefusalSentence
from filmhand.language import Counted, Sentence


class WishWord(Sentence):
    """One wish in plain words."""

    LINE_ART = "line art"
    TONE = "tone"
    OWN_SIZE = "own size"
    FULL_PAGE = "full page"
    WIDTH = "width {part}"
    HEIGHT = "height {part}"
    BOX = "{part}"
    PAPER = "{part} size"
    MIRROR = "mirror"
    NEGATIVE = "negative"
    POSITIVE = "positive"
    LPI = "{part} lpi"
    ANGLE = "{part} degrees"
    THRESHOLD = "threshold {part}"
    DOTS = "{part} dots"
    COPIES = "copies: {part}"
    PAGES = "pages {part}"
    TRIAL = "trial"
    PATCH = "patch {part}"


class WishFault(Sentence):
    """What is said of square brackets that are no wish, and what would help."""

    NO_WISH = "The name {name} has {told} in square brackets, which is no wish that can be read."
    NO_WISH_MEANT = (
        "The name {name} has {told} in square brackets, which is no wish that can be read; did you "
        "mean {meant}?"
    )
    NO_WISH_OF_PROFILE = (
        "The name {name} has {told} in square brackets, which is no wish that can be read; "
        "resolution and mesh stand in the profile and are not for one job to choose."
    )
    BESIDE_OTHERS = "{told} beside other wishes"
    BRACKET_MISSING = (
        "The name {name} has a square bracket beside a wish, and its other one is missing."
    )

    # What would help.
    NAME_GUESS = (
        "Name it “{guess}” if so, or “{plain}” where nothing in it is a wish, and drop the file "
        "again."
    )
    NAME_PARTED = (
        "Name it “{parted}”, or “{plain}” where nothing in it is a wish, and drop the file again."
    )
    NAME_PLAIN = "Name it “{plain}” where it is no wish, and drop the file again."
    SUCH_AS = (
        "Wishes are written as [7 in], [9 in high], [180 mm], [A4], [35 lpi], [line], [tone], "
        "[mirror], [x3], [pages 2-5, 8] or [trial]."
    )


class TicketRefusal(RefusalSentence):
    """Why a ticket, or the wishes in a name, cannot be followed."""

    TWO_WISHES = (
        Reason.BAD_TICKET,
        "The name {name} asks for {one} and for {other}, and only one can be.",
        "Name it “{first}” or “{second}”, and drop the file again.",
    )
    TWO_READINGS = (
        Reason.BAD_TICKET,
        "The name {name} has '{inside}' in square brackets, which can be read as {one} and as "
        "{other}.",
        "Name it “{first}” or “{second}”, and drop the file again.",
    )
    WISH_CANNOT_BE = (
        Reason.BAD_TICKET,
        "The name {name} asks for {wishes}, and that cannot be: {fault}",
        "Correct what stands in square brackets, or name it “{other}” to do without that wish, "
        "and drop the file again.",
    )
    WISH_TOO_MUCH = (
        Reason.BAD_TICKET,
        "The name {name} asks for {wishes}, and that cannot be: {fault}",
        "Name it “{fitting}”, or “{other}” to do without that wish, and drop the file again.",
    )
    FAULT = (
        Reason.BAD_TICKET,
        "The ticket {file}, line {line}, column {column}: {fault}",
        "Correct the ticket and drop it again together with the art.",
    )
    FAULTS = (
        Reason.BAD_TICKET,
        "The ticket {file}, line {line}, column {column}: {fault}",
        "Correct the ticket and drop it again together with the art. Correct also {others}.",
    )
    FEWER_PAGES = (
        Reason.BAD_TICKET,
        "Page {last} of “{name}” was asked for, and it has {pages}.",
        "Ask for pages up to {count}, or leave pages out for all of them.",
    )


class TicketCount(Counted):
    """What is counted in what is said of tickets."""

    PAGES = ("{n} page", "{n} pages")
    FAULT_AND_MORE = ("{fault} (and {n} more fault)", "{fault} (and {n} more faults)")
    MORE = ("and {n} more", "and {n} more")


class TicketWord(Sentence):
    """What the record tells of wishes, and what is wrong with the keys of a ticket."""

    NAME_ASKS = "The name asks for {wishes}."
    OVERRULED = "The name asks for {wishes}, which the ticket decides otherwise."
    COPIES_BY_HAND = (
        "{copies} copies are asked for, and this profile sends no film to a printer: whoever "
        "prints this film prints it that often."
    )
    COPIES_PRINTED = "{copies} copies are asked for, and so many go to the printer."
    AT_PLACE = "line {line}, column {column}: {fault}"
    FOR_ALL_JOBS = "{key} goes for all jobs of a profile and belongs there; a ticket may set {keys}"
    NOT_FOR_TICKETS = (
        "a ticket cannot change the sheet, the printer or the mesh, so {key} belongs in the "
        "profile; a ticket may set {keys}"
    )


class TicketAllowed(Sentence):
    """What a key of a ticket may be: each completes ``… must be …``."""

    FOR = "a name of up to {most} characters"
    FOR_IN_QUOTES = (
        'in quotes where it holds a #, as in for: "{written}", for what follows that is left out'
    )
    GAIN = (
        "a number from 0 to {most} or a list of [film %, print %] pairs (a ticket cannot name a "
        "curve file)"
    )
    PAGES = "pages from 1 to {most}, as in 3, 2-5 or 2-5, 8, each of them once and in their order"
    PATCH = "the name of a patch on the trial sheet, such as B2"
    TRIAL = "true, or a group of settings, with lists for {keys} inside it"
    TRIAL_VALUES = "a list of 1 to {most} values"
    TRIAL_DETAIL = "[from the left %, from the top %] of the art, such as [50, 30]"
    GANG = (
        "off, a time from 1 s to 168 h such as 10 min, or {{wait: 10 min, gap: 5 mm, most: 20}} "
        "with a gap of up to 100 mm and 2 to {most} art files"
    )


class AloneWord(Sentence):
    """Why art shares no sheet with other art."""

    GANG_FALSE = "its ticket says gang: false"
    FILM = "its ticket sets film, which belongs to a whole sheet"
    MARKS = "its ticket sets marks, which belong to a whole sheet"
    COPIES = "its ticket asks for several copies of the sheet"
    TRIAL = "its ticket asks for a trial sheet"
    PATCH = "its ticket chooses a patch of a trial"
    FILLS = "its ticket lets it fill the sheet"
    INKS = "its ticket makes films of several inks"
    REPEATS = "its ticket lays it on the sheet several times"
