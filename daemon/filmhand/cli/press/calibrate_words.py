"""What ``filmhand calibrate`` reports."""

from __future__ import annotations

from filmhand.language import Sentence


class CalibrateWord(Sentence):
    """Rows of the report on a reading, and what to do with it."""

    OUT_IS_FOLDER = "--out {out} is a folder; name a file in it, such as {inside}."
    OUT_IS_PLOT = (
        "--out {out} is where the plot would lie; name the curve's own file, such as {text}."
    )
    OUT_IS_TAKEN = (
        "Curve and plot of --out {out} would take the place of {lost}; choose another name."
    )
    READING_SCANS = "reading scans: {number} of {total} ..."
    HEAD_OF_PRINT = "film %   print %   error"
    HEAD_OF_FILM = "asked %  film %    error"
    GAIN = "A film tone of 50 % prints as {print} %."
    GROWN_DOTS = "A tone of 50 % lies on the film as {print} %."
    HELD = "The smallest that held: {sizes}."
    NONE_HELD = "The picture tells of no size whether it held."
    DOTS = "dots of {size} µm"
    SHADOW_DOTS = "shadow dots of {size} µm"
    LINES = "lines of {size} µm"
    GAPS = "gaps of {size} µm"
    GROWTH = "Edges lie {growth} µm further out than on the film's bits."
    DENSITY = "The solid's density over bare ground is {density}."
    SCALE = "Lengths measure {across} % across and {down} % down."
    WRITE_SCALE = (
        "Where a steel rule agrees, write into the profile: "
        "print: {{scale: [{across} %, {down} %]}}."
    )
