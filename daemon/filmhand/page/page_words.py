"""What the status page says, one row a sentence."""

from __future__ import annotations

from filmhand.language import Counted, Sentence


class PageWord(Sentence):
    """The sentences and captions of the status page."""

    TITLE = "{todo} to do, {made} made, {refused} refused - {station}"
    AT_WORK = "at work"
    NOT_RUNNING = "not running"
    AS_OF = "as of"
    HOLD = "Hold still"
    FOLLOW = "Follow again"
    STALE = (
        "Nothing has been written here for half a minute: filmhand was stopped or hangs, its disk "
        "is full, or the share is gone. If the time above is right, this computer's clock is not."
    )
    WAITING = "waiting"
    IN_WORK = "in work"
    MADE = "made"
    WARNED = "with a warning"
    REFUSED = "refused"
    HELD = "held"
    SEARCH = "Search names, people, words"
    PROFILE = "Profile:"
    ALL_PROFILES = "all"
    SHOW = "Show:"
    ALL = "everything"
    NONE_FOUND = "Nothing here matches what you chose above."
    TO_LOOK_AT = "To look at"
    NOTHING_TO_LOOK_AT = "Nothing was refused and nothing is held."
    LATEST = "What happened, newest first"
    NOTHING_YET = "Nothing yet. Drop art into a profile's folder named drop."
    PROFILES = "The profiles"
    FILM = "film"
    PROOF = "proof"
    PROOF_OF = "Proof of {name}"
    RECORD = "record"
    ORIGINAL = "original"
    NOTE = "note"
    FOUND = "Found: {found}."
    NEEDED = "Needed: {needed}."
    AFTER_ALL = "A film of it was made after all."
    AWAY = "Put away"
    BACK = "Put back"
    HELD_UNTIL = "Held: {why}"
    UNTIL = "Until: {until}."
    WORKING_STATE = "working"
    PAUSED_STATE = "paused"
    UNREACHABLE_STATE = "not reachable"
    NOT_RUNNING_STATE = "not running"
    IN_WORK_NOW = "In work"
    READING = "reading the art"
    SCREENING = "laying down dots"
    MEASURING = "measuring what the mesh holds"
    WRITING = "writing and reading back"
    WAITS_IN_ORDER = "Waiting, in order"
    NOTHING_WAITS = "Nothing waits."
    FOR_SECONDS = "for {seconds} s"
    USUALLY = "films here take about {seconds} s"
    ABOUT_IN = "in about {time}"
    SECONDS = "{n} s"
    MINUTES = "{n} min"
    HOURS = "{n} h"
    HOSTS = "Also at work in this folder"
    HOST_HEARD = "{host}, heard from {seconds} s ago, {jobs} in hand"
    LEFT_ALONE = "Left alone"
    DROP_HERE = "drop folder"
    PRINTER = "Printer"
    PRINTERS = "Printers"
    AT_PRINTER = "At the printer"
    PRINTING_PAUSED = "paused; filmhand resume lets its films go on"


class PageCount(Counted):
    """What the status page counts."""

    OLDER = ("{n} older entry", "{n} older entries")
    FILMS_TO_PRINT = ("{n} film waits for it", "{n} films wait for it")
    MORE_WAIT = ("and {n} more", "and {n} more")
    NOT_SHOWN = (
        "{n} more is not shown here; filmhand history tells of it.",
        "{n} more are not shown here; filmhand history tells of them.",
    )
