"""What ``filmhand curves`` reports."""

from __future__ import annotations

from filmhand.language import Sentence


class CurveReportWord(Sentence):
    """Rows of the report on press curves."""

    NONE_YET = (
        "No press curve was read yet: print the film of filmhand wedge, and drop a scan of the "
        "print into calibrate/."
    )
    HEAD = "date        50 %   30 to 90 % in print, | is 50 %      dots  curve"
    IN_FORCE = "in force"
    NONE_OF_FILM = "A scan of the film tells nothing of the press, so no curve was written."
    WRITTEN = "The curve is in {file}, its plot in {plot}."
    NAME_IT = "Write into the profile: tone: {{gain: {name}}}."
    OF_INK = (
        "Put {file} into curves/{ink}/ of the profile's folder, here {folder}, as {name}, and "
        "write into the profile: tone: {{gain: measured}}. The films of {ink} then go by it; named "
        "in tone.gain it would be for all inks."
    )
    OF_INK_LIES_THERE = (
        "The films of {ink} go by it where the profile has tone: {{gain: measured}} and no newer "
        "reading lies there."
    )
    PUT_IT_BESIDE = "Put {file} beside the profile, and write into it: tone: {{gain: {name}}}."
