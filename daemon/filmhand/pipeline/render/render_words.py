"""What is said of art on its way to dots: its repairs, its treatment, what was cut and cleared."""

from __future__ import annotations

from filmhand.errors import Reason, RefusalSentence
from filmhand.language import Counted, Sentence


class RenderNote(Sentence):
    """What the record tells of how the art was treated."""

    # repairs
    BLOCKS = (
        "The squares of strong JPEG compression were smoothed (steps between them were {times} "
        "times those within)."
    )
    DESCREENED = (
        "The art was screened before, with dots every {period} pixels at {angle} degrees; they "
        "were taken out, and what is finer than they were is gone with them."
    )
    STRAIGHTENED = "The art lies {angle} degrees clockwise; it was straightened."
    STRAIGHTENED_BACK = "The art lies {angle} degrees counter-clockwise; it was straightened."
    ASLANT_UNDER_MASK = (
        "The art lies {angle} degrees clockwise; it was not straightened, because a mask lies over "
        "it."
    )
    ASLANT_BACK_UNDER_MASK = (
        "The art lies {angle} degrees counter-clockwise; it was not straightened, because a mask "
        "lies over it."
    )
    ASLANT_AT_EDGES = (
        "The art lies {angle} degrees clockwise; it was not straightened, because that would cut "
        "off what is at its edges."
    )
    ASLANT_BACK_AT_EDGES = (
        "The art lies {angle} degrees counter-clockwise; it was not straightened, because that "
        "would cut off what is at its edges."
    )
    # what was cut off
    NO_EMPTY_BORDERS = "No empty borders were found around the art, so none were cut off."
    CUT = "The art was cut for art.crop: {cut}."
    TRIMMED = "The art was cut for empty borders (art.trim): {cut}."
    CUT_AND_TRIMMED = "The art was cut for art.crop and empty borders (art.trim): {cut}."
    OF_ITS_OWN_SIZE = "{cut} of its own size"
    ON_THE_LEFT = "{length} on the left"
    AT_THE_TOP = "{length} at the top"
    ON_THE_RIGHT = "{length} on the right"
    AT_THE_FOOT = "{length} at the foot"
    PIXELS = "{count} pixels"
    # how it is treated
    ALL_IS_SCREENED = "No pictures were found beside strokes on paper, so all is screened."
    LOSES_NOTHING = "As line art it loses nothing, so it is treated as line art."
    INK_SOLID = "solid on {share} % of the art"
    INK_IN_DOTS = "dots of {tone} % on {share} % of the art"
    MASK = "The mask keeps clear film wherever it is dark."
    EDGES_KEPT = (
        "Line work inside the picture, on {share} % of it, keeps its edges (art: {{detail: off}} "
        "would break them into dots)."
    )
    # another size than the art states
    ENLARGED = (
        "The art states a longer side of {length} and was enlarged {times} times, as fit: page "
        "asks; art: {{fit: own}} keeps its size."
    )
    REDUCED = (
        "The art states a longer side of {length} and was reduced to {percent} %, as fit: page "
        "asks; art: {{fit: own}} keeps its size."
    )

    # Needed where a screen is not allowed.
    NO_DOTS = "none"


class ScreenedAsTone(Sentence):
    """Why art that might have been line art is screened."""

    BLANK = "The art is screened as tone: nothing of it would print as line art."
    GRADIENT = (
        "The art is screened as tone: its ground is shaded or dark without the grain of paper."
    )
    UNLIKE = "The art is screened as tone: as line art it would be like itself by {percent} % only."
    SHAPES_LOST = (
        "The art is screened as tone: as line art it would lose shapes with {percent} % of its ink."
    )
    DARKNESS_LOST = (
        "The art is screened as tone: as line art it would lose {percent} % of its darkness."
    )
    SHAPES_FILLED = (
        "The art is screened as tone: as line art it would fill shapes with {percent} % of its "
        "light."
    )
    SHADED = "The art is screened as tone: its wide parts are shaded, which line art would lose."
    RULES_ON_TINT = "The art is screened as tone: its even rules lie on a drawn tint."
    COLORED_GROUND = "The art is screened as tone: its ground has a color that no paper has."


class RenderCount(Counted):
    """What is counted of it."""

    INKS = (
        "This art has {n} color beside its ground, and one film prints it as one ink: {inks}.",
        "This art has {n} colors beside its ground, and one film prints them as one ink: {inks}. "
        "For a film of each, write inks: auto {n} in the profile or in a ticket.",
    )
    ISLANDS = (
        "{n} small island of ink far from the subject was cleared; the proof shows where.",
        "{n} small islands of ink far from the subject were cleared; the proof shows where.",
    )
    ISLANDS_ON_TRIAL = (
        "{n} small island of ink far from the subject was cleared.",
        "{n} small islands of ink far from the subject were cleared.",
    )


class RenderRefusal(RefusalSentence):
    """Art that cannot be laid down as it is."""

    SCREENED_BEFORE = (
        Reason.MOIRE,
        "“{name}” was screened before: it has dots every {period} pixels at {angle} degrees, which "
        "would make moire with the new ones.",
        "Drop the picture that was screened, or a photograph of it, or let repair: {{screened: "
        "descreen}} take the dots out.",
    )
    MASK_OF_ANOTHER_SHAPE = (
        Reason.BAD_TICKET,
        "The mask is {mask} pixels, which is another shape than the art's {art}.",
        "Draw the mask over a copy of the art, at any size but with its proportions.",
    )


class MoireWord(Sentence):
    """What is said of bands."""

    BANDS = "bands {period} apart that change the ink by {change} %, seen from {distance}"
