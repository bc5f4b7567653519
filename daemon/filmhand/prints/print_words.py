"""What is said of films on their way to the printer, one row a sentence."""

from __future__ import annotations

from filmhand.language import Counted, Sentence
from filmhand.printer.trouble import TroubleKind, TroubleSentence


class OrderTrouble(TroubleSentence):
    """Why an order cannot be printed though the printer could."""

    SPOILED = (
        "What was kept for the printer is not what was written: the disk may be failing. Let go of "
        "it with: filmhand cancel STATION {film}; then print the film in positives/ with: filmhand "
        "reprint STATION {film}",
        TroubleKind.SPOILED,
    )


class OrderEnd(Sentence):
    """Why an order came to its end without being printed."""

    BEFORE_IT_WENT = "it was canceled before it was sent"
    AT_THE_PRINTER = "it was canceled at the printer"
    ON_DEMAND = "it was canceled on demand"
    ON_DEMAND_IN_DOUBT = "it was canceled on demand; {why}"
    GIVEN_UP = "a person looked and gave it up"


class Doubt(Sentence):
    """Why nobody knows whether a film was printed, and what to do then."""

    NO_JOB = "the printer has no job of its name"
    UNKNOWN_JOB = "the printer knows nothing of its job {number} any more"
    GAVE_UP = "the printer gave it up ({why})"
    OTHER_PRINTER = "the profile names another printer now"
    SAY = "Nobody knows whether it was printed: {why}."
    DO = (
        "Look for the sheet at the printer. If it is not there or not whole, print it again with: "
        "filmhand reprint STATION {film}; else put an end to it with: filmhand cancel STATION "
        "{film}"
    )


class QueueWord(Sentence):
    """What is said of a printer's queue, and of what lies where its orders do."""

    FAILED_ITSELF = "Filmhand itself failed ({kind}); its log tells."
    STILL_ON_ITS_WAY = (
        "{film} still waits to be printed or is being printed, and filmhand sees to it by itself. "
        "To print it once more, wait until it has come out."
    )
    PAUSED = "{profile} is paused"
    OTHER_HOST = (
        "{host} is printing on it, and lets others print between two films or two sets; if it was "
        "switched off, its films are taken over"
    )
    OTHER_HOST_LONG = (
        "{host} has had its turn on it for {minutes} min: filmhand status on that computer says "
        "what holds it up, and filmhand pause there lets others print meanwhile"
    )
    RUN_GOES_ON = (
        "{film_set} goes out in one run, and nothing comes between its films. To let others go "
        "first: filmhand pause STATION {profile}"
    )
    WAS_STOPPED = "it was stopped"
    NO_ORDER = "it is no order"
    NO_NOTE = "it is no note"
    NO_REQUEST = "it is no request"


class RunWaits(Counted):
    """How many films of a run are ready, and that they wait for the others."""

    FOR_ITS_FILMS = (
        "{n} film of {film_set} waits until all {of} films of that set are there",
        "{n} films of {film_set} wait until all {of} films of that set are there",
    )


class FilmsLeft(Counted):
    """How many films a printer has not printed, and why."""

    FOR_PRINTER = (
        "{n} film is left to print on {printer}: {why}.",
        "{n} films are left to print on {printer}: {why}.",
    )
