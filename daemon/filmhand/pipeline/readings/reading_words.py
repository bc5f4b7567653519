"""What is said of several readings of one wedge."""

from __future__ import annotations

from filmhand.language import Sentence


class ReadingsWord(Sentence):
    """Notes on readings that are taken together."""

    BLENDED = "Read together with {scans}, which came shortly before and show the same wedge."
    ALONE = (
        "It was not read together with {scans}, which came shortly before and show the same wedge, "
        "since no curve goes through all of them, so the curve is of this scan alone. Of all "
        "together: {why}"
    )
    LEFT_OUT = (
        "{scan} was left out: its tones lie {off} points from those of the other scans on average."
    )
    APART = (
        "{one} and {other} differ by {off} points on average, more than their errors say: print "
        "and scan once more, and leave the scan out that does not fit."
    )
    NOT_READ = "{name} was not read together with this scan: {why}."
    NO_READING = "it holds no reading of a wedge"
