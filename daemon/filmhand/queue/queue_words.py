"""What is said of a profile's queue: what waits and why, and what stops it, one row a sentence."""

from __future__ import annotations

from filmhand.language import Sentence


class JobQueueWord(Sentence):
    """Why art or a film waits, what is left alone, and why nothing is taken for now."""

    # Art that waits.
    NEXT = "it is next"
    ITS_TURN = "its turn comes"
    GOES_ON = "goes on"
    ART_IS_MISSING = "its art has not come yet"
    FOR_COMPANY = "waiting for company until {time}"
    SCAN_FIRST = "a scan of its wedge is read first, for the curve that its film goes by"
    WHOSE = "{why}; {whose}"
    CANNOT_BE_REFUSED = "it is refused as unreadable and cannot be moved to rejected/: {why}"

    # Held films, and what lies in release/ beside their proofs.
    HELD_UNTIL_ITS_TURN = "its turn has come"
    HELD_UNTIL_RELEASED = "somebody releases it"
    NO_FILE = "a link, a pipe or a device"
    OTHER_PROOF = "not the proof of the held film that has its name; move the proof itself here"
    NO_PROOF = "not the proof of a held film; only those belong here"

    # What stops the queue or its tidying.
    HANGS = (
        "The folder {folder} has not answered for {seconds} s: its disk or share hangs. The other "
        "profiles go on, and this one does when it answers."
    )
    CURVE_UNKNOWN = (
        "The folder was not there when the profile was read, so its press curve is not known yet "
        "(tone.gain: measured). It is looked for now."
    )
    FAILED_ITSELF = "Filmhand itself failed; its log tells how. It tries again."
    CLOCK_BEHIND = (
        "Nothing is tidied away: this computer's clock lies behind the last finished job. Set the "
        "clock."
    )
    CLOCK_JUMPED = (
        "Nothing is tidied away for a day: this computer's clock has jumped by more than an hour. "
        "See that it is right."
    )

    # The films that a profile makes.
    FILMS = "{sheet} at {dpi} dpi"
    FILMS_ON_MESH = "{sheet} at {dpi} dpi, mesh {mesh}"
    SCREENED = "{sheet} at {dpi} dpi, {lpi} lpi {dot}"
    SCREENED_ON_MESH = "{sheet} at {dpi} dpi, {lpi} lpi {dot}, mesh {mesh}"
