"""What is said of curves that are laid through readings."""

from __future__ import annotations

from filmhand.language import Sentence


class CurveWord(Sentence):
    """What a curve file, its plot and its report say."""

    TITLE = (
        "Press curve of {profile}, read by filmhand: film % and print % a line. Pairs may be "
        "changed by hand."
    )
    LEFT_OUT = (
        "The film tone {film} % was read as {measured} %, which is out of line with the tones "
        "beside it, and was left out."
    )
    NOT_ALIKE = (
        "The readings do not agree on the film tone {film} %: {low} to {high} %; their mean was "
        "taken."
    )


class CurveRefusal(Sentence):
    """Why no curve is laid through readings."""

    TOO_FEW = (
        "only {n} tones between bare and solid were read, and a curve needs {needed}; scan the "
        "whole wedge"
    )
    NO_ORDER = (
        "{n} of {all} tones are out of line with the tones beside them, as of a wedge that was "
        "moved, smeared or lit unevenly; scan it flat, or pull another print"
    )
    NOT_PRINT = "a press curve is read from a print, and this is a scan of the film"
