"""What is said of the process that makes a job's films, one row a sentence."""

from __future__ import annotations

from filmhand.language import Sentence


class WorkerWord(Sentence):
    """How a job's process ended, and what stood in its way."""

    THE_ART = "The art"
    NO_SPACE = "There is no space left on the local disk; make room and filmhand goes on by itself."
    DISK_FAILED = "The local disk failed: {error}."
    NOT_STARTED = "No worker could be started: {why}."
    NOT_BOUND = (
        "A job's process could not be bound to its folders: {why}; look what `filmhand doctor` "
        "says of the sandbox."
    )
    ENDED_FROM_OUTSIDE = (
        "The process that made this film was ended from outside ({how}), by a person or by the "
        "system for want of memory; the art is not to blame, and is to be made again"
    )
    # Facts of the log, of which a command tells the last line.
    BY_SIGNAL = "it ended by {signal}"
    WITH_CODE = "it ended with code {code}"
    MAKES_NO_SENSE = "its answer makes no sense ({error})"
