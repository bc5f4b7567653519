"""What a proof says of its film."""

from __future__ import annotations

from filmhand.language import Counted, Sentence


class ProofFact(Sentence):
    """The facts beside the picture, each a sentence."""

    PAGE = "{name}, page {page}"
    FOR = "{told}, for {whom}"
    INK = "{told}: {ink}, {k} of {of}"
    PART = "{told} ({part})"
    ART = "The art is {size} on a sheet of {sheet}."
    COPIES = "{columns} x {rows} copies, each {size} on a sheet of {sheet}."
    LINE_ART = "Line art: solid where the tone is over {threshold} %."
    SCREEN = "{lpi} lines per inch at {angle}°, {dots}."
    SCREEN_WITHOUT_ANGLE = "{lpi} lines per inch, {dots}."
    MIXED = "{lpi} lines per inch at {angle}°, {dots}; strokes are cut at {threshold} %."
    MIXED_WITHOUT_ANGLE = "{lpi} lines per inch, {dots}; strokes are cut at {threshold} %."
    DOTS = "{shape} dots"
    OWN_DOT = "a spot of its own"
    MESH = "Mesh {inch} per inch, which is {threads} threads per cm of {thread} µm ({pair})."
    MESH_ASSUMED = (
        "Mesh {inch} per inch, which is {threads} threads per cm of {thread} µm ({pair}); the "
        "thread is assumed."
    )
    NO_MESH = "No mesh is named, so nothing was judged by one."
    PROFILE = "Profile {profile}, {dpi}, {side}."
    LIES_TURNED_RIGHT = (
        "The art lies on its side on the film; here it is shown upright, with the top of the sheet "
        "at the right."
    )
    LIES_TURNED_LEFT = (
        "The art lies on its side on the film; here it is shown upright, with the top of the sheet "
        "at the left."
    )
    CLEARED_BACKGROUND = "Cleared background: {share} of the art."
    CLEARED_BY_MASK = "Cleared by the mask: {share} of the art."
    LESS_THAN = "less than {percent} %"
    PERCENT = "{percent} %"
    MADE_ANYWAY = "Made anyway: it does not pass, and the ticket asks for it."


class ProofCount(Counted):
    """Facts that are counted."""

    TRIAL = ("A trial of {n} patch, {size}.", "A trial of {n} patches, {size} each.")
    SPOTTED_OUT = (
        "Spotted out: {n} place, {share} of the ink.",
        "Spotted out: {n} places, {share} of the ink.",
    )
    SPOTTED_OUT_ON_ALL = (
        "Spotted out: {n} place, {share} of the ink, on all films together.",
        "Spotted out: {n} places, {share} of the ink, on all films together.",
    )
    ISLANDS = ("Cleared small islands: {n}.", "Cleared small islands: {n}.")
    MORE_WARNINGS = ("And {n} more; the record has all.", "And {n} more; the record has all.")
