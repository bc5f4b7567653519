"""What stands on a film."""

from __future__ import annotations

from filmhand.language import Counted, Sentence


class LabelWord(Sentence):
    """The label's parts; between them stands an upright line."""

    FOR = "for {whom}: {told}"
    INK = "INK {ink}, {k} of {of} in print order"
    PAGE = "{name} page {page}"
    PART = "{told}: {part}"
    ASKED_BY_NAME = "asked for by name: {wishes}"
    ART = "art {size}"
    ART_DIGEST = "art {art}"
    COPIES = "{columns} x {rows} copies of art {size}"
    DIGESTS = "art {art} profile {profile}"
    PROFILE_DIGEST = "profile {profile}"
    # how it was made
    LINE_ART = "line art, threshold {threshold} %"
    SCREEN = "{lpi} lpi {angle} deg {dot}"
    SCREEN_WITHOUT_ANGLE = "{lpi} lpi {dot}"
    OWN_DOT = "own spot"
    MIXED = "{screen}, strokes cut at {threshold} %"
    MESH = "mesh {mesh}"
    MESH_ASSUMED = "mesh {mesh}, thread assumed"
    NO_MESH = "no mesh: not judged"
    # which side is up
    RIGHT_READING = "right-reading, image side up"
    MIRRORED = "MIRRORED: right-reading, image side down"
    NEGATIVE = "NEGATIVE"
    STACK = "STACK {stack}: lay {stack} of this film in register"
    # what to mind
    NO_WARNINGS = "no warnings"
    MADE_ANYWAY = "MADE ANYWAY. {warnings}"
    BELOW_EACH_PATCH = "what the mesh makes of each stands below it"


class LabelCount(Counted):
    """The same of several."""

    TRIAL = ("TRIAL of {n} patch, {size}", "TRIAL of {n} patches, {size} each")
    ON_ONE_SHEET = ("{n} on one sheet: {names}", "{n} on one sheet: {names}")
