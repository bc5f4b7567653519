"""What is said of a set of films: its notes and warnings, and why there is none."""

from __future__ import annotations

from filmhand.errors import Reason, RefusalSentence
from filmhand.language import Counted, Sentence


class SetNote(Sentence):
    """What the records of a set tell, and parts of that."""

    SPOT = "Each color of the art goes to its own ink (spot colors): {inks}."
    PROCESS = "The colors of the art are mixed of dots of all inks: {inks}."
    SIMULATED = "The colors of the art are mixed of dots of all inks, on dark cloth: {inks}."
    FOUND = "The inks were found in the art: {inks}."
    ON_PAPER = (
        "This looks like a scan or photograph on paper ({color}), which was taken for colors of "
        'the art, so it takes an ink and prints. cloth: "{color}" in the profile leaves it out.'
    )
    INK = "{k} {ink} ({color})"
    NOTHING_OF_INK = (
        "Nothing of this art prints in {inks}, so the set has no film of it; the others are "
        "numbered without it."
    )
    OVERPRINTS = (
        "Inks that overprint: {inks}. What lies beneath their solids is taken from beside them and "
        "not knocked out."
    )
    OVERPRINT_LEFT_ASIDE = (
        "overprint was left aside for {inks}: it counts for spot colors that are separated here, "
        "of inks before which another is printed."
    )
    TRAP_LEFT_ASIDE = (
        "trap was left aside: it counts for spot colors that are separated here; mixed colors and "
        "plates that the art brings are not trapped."
    )
    GRAY_ONLY = "{keys} count for gray films only, and were left aside for the inks."
    # warnings
    UNREACHED = (
        "No ink comes near {share} % of the art; the most frequent such color is {color}, which "
        "went to {nearest} and is {difference} (CIEDE2000) from it."
    )
    NOT_MIXED = (
        "The inks cannot mix the colors of {share} % of the art, which are off by more than {far} "
        "(CIEDE2000); the most frequent is {color}, and the nearest ink, {nearest}, is "
        "{difference} from it."
    )
    ONE_INK_MORE = "inks: auto {count} lets one more ink be found for it."
    WHY_MIXED = (
        "Mixed, since more than {share} % of the art have colors that are of no ink and no tint of "
        "one; separate: spot gives each to the nearest ink instead."
    )
    OVERPRINTED = (
        "Where {ink} prints over {below}, on {share} % of the art, it becomes {color}, which is "
        "{difference} (CIEDE2000) from what it is alone; an ink that covers, or overprint: false, "
        "would keep it."
    )
    COLOR = "{name} ({code})"
    UNREACHED_ON_LABEL = "colors that no ink comes near"
    CLOTH = "the cloth"
    BANDS_OF = "{bands}, of {inks}"
    ANGLE_WOULD_HELP = (
        "The films of this set would pass together with {ink} at angle: {angle}; write that beside "
        "the ink in the profile."
    )
    FINER_WOULD_HELP = (
        "No other angle of one ink passes; bands of finer screens are seen less, so a higher lpi "
        "would help, or verdict.moire with the distance from which the print is looked at."
    )


class SetCount(Counted):
    """Facts of a set that are counted."""

    FILMS = (
        "{n} film, lines per inch and degrees: {screens}.",
        "{n} films, lines per inch and degrees: {screens}.",
    )


class SetFact(Sentence):
    """What the proof of a set tells."""

    FAR = "Printed over each other they are {mean} (CIEDE2000) from the art on average."
    LINE = "{ink} solid"
    SCREEN = "{ink} {lpi} at {angle}°"
    SCREEN_WITHOUT_ANGLE = "{ink} {lpi}"


class SetOffer(Sentence):
    """How to ask for a change that would pass, at one ink."""

    AT_INK_OF_PROFILE = "{change} (write {setting} at the ink {ink} in the profile)"
    AT_INK_OF_TICKET = "{change} (write {setting} at the ink {ink} in its ticket)"


class SetRefusal(RefusalSentence):
    """Why art becomes no set of films."""

    OF_INK = (Reason.NOT_ART, "The film of {ink} ({k} of {of}): {say}", "{do}")
    NO_SUCH_INK = (
        Reason.BAD_SCAN,
        "The profile {profile} names no ink {ink}.",
        "Its inks are: {known}.",
    )
    NO_INKS_NAMED = (
        Reason.BAD_SCAN,
        "The profile {profile} names no inks, so {ink} has no press of its own.",
        "Leave the ink out, or list the inks in the profile.",
    )
    COLORS = (
        Reason.COLORS,
        "No ink of the set comes near {share} % of this art: the most frequent such color is "
        "{color}, and the nearest, {nearest}, is {difference} (CIEDE2000) from it; at most "
        "{most} % may be so far.",
        "Add an ink of that color, let the inks be found (inks: auto {count}), or print it in "
        "process colors (inks: process).",
    )
    MIXED = (
        Reason.COLORS,
        "The inks of this set cannot mix the colors of {share} % of this art, which would be off "
        "by more than {far} (CIEDE2000); at most {most} % may be. The most frequent is {color}, "
        "and the nearest ink, {nearest}, is {difference} from it.",
        "Add an ink of that color, let the inks be found (inks: auto {count}), or print it in "
        "process colors (inks: process).",
    )
    NOT_IN_PROCESS = (
        Reason.COLORS,
        "Process inks cannot mix the colors of {share} % of this art, which would be off by more "
        "than {far} (CIEDE2000); at most {most} % may be. The most frequent is {color}, and the "
        "nearest ink, {nearest}, is {difference} from it.",
        "Let inks be found in the art (inks: auto {count}), or give the art colors that process "
        "inks can print.",
    )
    NO_INK = (
        Reason.BLANK,
        "Nothing of this art would print: all of it has the color of the cloth.",
        "Check that the art is not empty, and that cloth is the color that is printed on.",
    )
    WITH_MASK = (
        Reason.BAD_TICKET,
        "A mask lies beside this art, and films of several inks cannot be combined with one yet.",
        "Take the mask away, or make the art see-through where nothing is to print.",
    )
    WITH_TRIAL = (
        Reason.BAD_TICKET,
        "The ticket asks for a trial or one of its patches, and films of several inks cannot be "
        "combined with it yet.",
        "Write inks: off into the ticket, or leave trial and patch out.",
    )
