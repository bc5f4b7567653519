"""What is said of curves that are laid through readings."""

from __future__ import annotations

from filmhand.errors import Reason, RefusalSentence
from filmhand.language import Sentence


class CurveWord(Sentence):
    """What a curve file, its plot and its report say."""

    TITLE = (
        "Press curve of {profile}, read by filmhand: film % and print % a line. Pairs may be "
        "changed by hand."
    )
    PLOT_TITLE = "{profile}, {date}: 50 % on the film prints {at_50} %"
    PLOT_HELD = "dots held from {dot} µm"
    LEFT_OUT = (
        "The film tone {film} % was read as {measured} %, which is out of line with the tones "
        "beside it, and was left out."
    )
    NOT_ALIKE = (
        "The readings do not agree on the film tone {film} %: {low} to {high} %; their mean was "
        "taken."
    )


class CurveRefusal(RefusalSentence):
    """Why no curve is laid through readings."""

    TOO_FEW = (
        Reason.BAD_SCAN,
        "Only {n} tones between bare and solid were read, and a curve needs {least}.",
        "Scan the whole wedge.",
    )
    NO_ORDER = (
        Reason.BAD_SCAN,
        "{n} of {all} tones are out of line with the tones beside them, as on a wedge that moved, "
        "was smeared or lit unevenly.",
        "Scan it flat, or pull another print.",
    )
    NOT_PRINT = (
        Reason.BAD_SCAN,
        "A press curve is read from a print, and this is a scan of the film.",
        "Scan a print of the wedge.",
    )
