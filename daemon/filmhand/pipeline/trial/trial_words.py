"""What stands on a trial sheet, and what is said of it."""

from __future__ import annotations

from filmhand.errors import Reason, RefusalSentence
from filmhand.language import Sentence


class TrialCaption(Sentence):
    """Below a patch: what the mesh makes of it, and its settings."""

    NAME_AND_VERDICT = "{name} {verdict}"
    BLANK = "blank"
    TOO_FINE = "too fine"
    FAILS = "fails"
    WARNS = "warns"
    WARNS_WITHOUT_MESH = "warns, no mesh"
    NO_MESH = "no mesh"
    HOLDS = "holds"
    # settings
    LPI = "{value} lpi"
    DOT = "{value}"
    ANGLE = "{value} deg"
    THRESHOLD = "threshold {value} %"
    CONTRAST = "contrast {value}"
    MIDTONE = "midtone {value}"


class TrialNote(Sentence):
    """What the record tells of a trial."""

    MADE_AS = "Made as patch {patch} of the trial: {settings}."
    SHEET = (
        "A trial sheet: {count} patches of {size} show the art about {x} % from its left and {y} % "
        "from its top edge, at the size of the film (trial: {{detail: [{x}, {y}]}} shows the same "
        "place again)."
    )
    HELD = (
        "On mesh {mesh}, {held} of the patches hold, {warned} hold with a warning, and {refused} "
        "would be refused."
    )
    CHOOSE_BY_TICKET = (
        "To choose a patch, leave the ticket as it is and add a line such as patch: {patch}."
    )
    CHOOSE_BY_NAME = (
        "To choose a patch, write it in the name in place of trial, as in “{name}”, and leave the "
        "rest as it is."
    )
    FIGURES_DIFFER = "{note} The figures differ from patch to patch."
    FROM_TO = "{first} to {last}"


class TrialRefusal(RefusalSentence):
    """Trials that cannot be made, and patches that there are not."""

    NO_PATCH = (
        Reason.BAD_TICKET,
        "The trial of this art has no patch {patch}; its patches are {there}.",
        "Write the name of one of them after patch, as it stands on the trial sheet, and leave the "
        "lists of the trial as they were.",
    )
    NO_PATCH_OF_PAGE = (
        Reason.BAD_TICKET,
        "The trial of page {page} of this art has no patch {patch}; its patches are {there}.",
        "Write the name of one of them after patch, as it stands on the trial sheet, and leave the "
        "lists of the trial as they were.",
    )
    NOTHING_FOR_LINE_ART = (
        Reason.BAD_TICKET,
        "This art is line art, and none of what the trial varies ({keys}) makes a difference to "
        "that.",
        "Vary {allowed}; or say how to treat it, such as art: {{treat: tone}}.",
    )
    NOTHING_FOR_TONE = (
        Reason.BAD_TICKET,
        "This art is screened, and none of what the trial varies ({keys}) makes a difference to "
        "that.",
        "Vary {allowed}; or say how to treat it, such as art: {{treat: line}}.",
    )
    NO_ROOM = (
        Reason.BAD_TICKET,
        "The trial asks for {patches} patches, and this sheet has room for {room} of {least}, "
        "which is the least that can be judged by eye.",
        "Shorten the lists of the trial, or use a profile with a larger sheet.",
    )
    NO_ROOM_FOR_DOTS = (
        Reason.BAD_TICKET,
        "The trial asks for {patches} patches, and this sheet has room for {room} of {least}, "
        "which is the least that shows {cells} dots of {lpi} lpi in a row.",
        "Shorten the lists of the trial, leave out the coarsest ruling, or use a profile with a "
        "larger sheet.",
    )
