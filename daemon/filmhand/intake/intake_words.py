"""What is said of files as they come in: left alone, waiting, or refused unread."""

from __future__ import annotations

from filmhand.errors import Reason, RefusalSentence
from filmhand.language import Sentence


class IntakeWord(Sentence):
    """Why something in a drop folder is left alone, and why a file waits."""

    THE_FILE = "The file"

    # Found or needed.
    SOMETHING = "at least one byte"
    NO_ART = "no art"

    # Left alone.
    TOO_DEEP = "a folder too deep inside other folders"
    UNREADABLE_FOLDER = "a folder that cannot be read: {why}"
    LINK = "a link; drop the file itself"
    PIPE = "a pipe, not a file"
    DEVICE = "a device or socket, not a file"

    # Waiting.
    JUST_CAME = "it has just arrived or changed"
    SETTLES = "it is settling"
    STILL_WRITTEN = "another program is still writing it"
    SETTLES_LONGER = (
        "it is settling ({seconds} s, since filmhand cannot see here whether another program still "
        "writes it)"
    )
    EMPTY = "it is empty"
    CANNOT_READ = "filmhand cannot read it: {why}"
    END_IS_MISSING = "its end has not arrived: {why}"
    END_NOT_WRITTEN = "its end has not been written yet"


class IntakeRefusal(RefusalSentence):
    """The refusals that need no look inside the art."""

    EMPTY = (
        Reason.DAMAGED,
        "The file is empty: its name arrived, but nothing in it.",
        "Copy it here again; if it is empty where it came from, save it anew there.",
    )
    BROKE_OFF = (
        Reason.DAMAGED,
        "The file broke off on its way: {why}.",
        "Copy it here again and wait until the copy is finished; if that does not help, save it "
        "anew from the program that made it.",
    )
    UNREADABLE = (
        Reason.UNREADABLE,
        "{name} could not be read for a day: {why}.",
        "Make it readable for filmhand's user, or copy it anew from where it came from, and drop "
        "that.",
    )
    MISNAMED_TICKET = (
        Reason.BAD_TICKET,
        "Beside this art lies {name}, and a ticket takes the art's whole name, ending included.",
        "Name it {right}, or move it away, and drop the art again.",
    )
    MISNAMED_MASK = (
        Reason.BAD_TICKET,
        "Beside this art lies {name}, and a mask takes the art's whole name, ending included.",
        "Name it {right}, or move it away, and drop the art again.",
    )
    TICKET_ALONE = (
        Reason.BAD_TICKET,
        "This ticket belongs to art named {art}, which did not come within ten minutes.",
        "Drop {art} and this ticket together. It takes the art's whole name, ending included: for "
        "art named poster.jpg it must be named {example}.",
    )
    MASK_ALONE = (
        Reason.BAD_TICKET,
        "This mask belongs to art named {art}, which did not come within ten minutes.",
        "Drop {art} and this mask together. It takes the art's whole name, ending included: for "
        "art named poster.jpg it must be named {example}.",
    )
