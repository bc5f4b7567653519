"""What is said of jobs, one row a sentence."""

from __future__ import annotations

from filmhand.errors import Reason, RefusalSentence
from filmhand.language import Counted, Sentence


class JobWord(Sentence):
    """Why a job waits or is made again, and what its records tell."""

    IMMOVABLE = (
        "the system does not let filmhand move {name} ({error}): close it in other programs, or "
        "give filmhand the right to write in its folder"
    )
    CHANGED_AT_LAST = "it changed at the last moment"
    CHANGED_IN_READING = "it changed while it was read"
    CHANGED_AFTER = "it changed after it was taken and is made again: {why}"
    IN_THE_WAY = (
        "{place} is in the way of a film of the same job; move it away and filmhand goes on by "
        "itself."
    )
    NOT_KEPT = "The disk did not keep what was written to {target}; filmhand tries again."
    STILL_COMPUTED = (
        "A computer of the cluster still works on a job that was taken from it; filmhand waits "
        "until it has stopped."
    )
    # Why a finished film is held.
    FOR_APPROVAL = "It waits until somebody approves it."
    FOR_ITS_TURN = "Films that wait for longer have their sheets first."
    # The ledger.
    LEDGER_UNREADABLE = "The ledger could not be read and is made anew: {error}"
    LEDGER_UNUSABLE = "The ledger could not be used: {error}"
    LEFT_OUT = "Page {page} was left out: {why}"
    # Who finds the cause of a failure.
    ITS_LOG = "its log"


class JobCount(Counted):
    """What is counted of a job."""

    WITH_OTHERS = ("{name} and {n} more", "{name} and {n} more")
    MORE_LEFT_OUT = ("And {n} more page.", "And {n} more pages.")
    STILL_MISSING = (
        "The ledger was lost or is new and is read in again beside the work, newest jobs first; "
        "about {n} is still missing from the counts and the history.",
        "The ledger was lost or is new and is read in again beside the work, newest jobs first; "
        "about {n} are still missing from the counts and the history.",
    )
    # Films that were made of a file too early.
    DO_NOT_USE = (
        "{films} was made before this file had arrived whole, and was gone from positives/ when "
        "that was found; do not use it.",
        "{films} were made before this file had arrived whole, and were gone from positives/ when "
        "that was found; do not use them.",
    )
    CHANGED_AFTER_FILMS = (
        "it changed after it was taken and is made again: {why}; {films} was made before it was "
        "whole, do not use it",
        "it changed after it was taken and is made again: {why}; {films} were made before it was "
        "whole, do not use them",
    )
    # The budget, by the sheets that a film takes.
    NEVER_FOR_PERSON = (
        "It takes {n} sheet, and {person} may have at most {limit} a day, so only a release lets "
        "it go.",
        "It takes {n} sheets, and {person} may have at most {limit} a day, so only a release lets "
        "it go.",
    )
    NEVER_FOR_PROFILE = (
        "It takes {n} sheet, and this profile may have at most {limit} a day, so only a release "
        "lets it go.",
        "It takes {n} sheets, and this profile may have at most {limit} a day, so only a release "
        "lets it go.",
    )
    USED_BY_PERSON = (
        "It takes {n} sheet, and {person} may have at most {limit} on {day}; used so far: {used}.",
        "It takes {n} sheets, and {person} may have at most {limit} on {day}; used so far: {used}.",
    )
    USED_BY_PROFILE = (
        "It takes {n} sheet, and this profile may have at most {limit} on {day}; used so far: "
        "{used}.",
        "It takes {n} sheets, and this profile may have at most {limit} on {day}; used so far: "
        "{used}.",
    )


class JobRefusal(RefusalSentence):
    """The refusals that jobs themselves decide."""

    GIVEN_UP = (
        Reason.DISCARDED,
        "Its film was held, and somebody gave it up.",
        "To have its film after all, drop the file again.",
    )
    FAILED_ITSELF = (
        Reason.CRASHED,
        "Filmhand itself failed over this file three times; the file is not to blame.",
        "Tell whoever looks after filmhand, who finds the details in {log}.",
    )
    FAILED = (
        Reason.CRASHED,
        "Filmhand tried this file three times and failed each time without being able to say why.",
        "Save it anew as a PNG or TIFF from the program it was made with, and drop that; whoever "
        "looks after filmhand can find the cause in {log}.",
    )
