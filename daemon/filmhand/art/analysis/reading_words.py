"""What the record tells of how art was read: as tone or line, as which kind, by which levels."""

from __future__ import annotations

from filmhand.language import Sentence


class ReadingNote(Sentence):
    """Why art is treated as it is."""

    # Tone, of art that was drawn.
    TOO_NARROW = "The art is too narrow to judge, so it is screened as tone."
    ONE_FLAT = "The art is one single flat, so it is screened as tone."
    FLAT_TINTS = (
        "The art has flat tints between ground and solid on {share} % of its area, so it is "
        "screened as tone."
    )
    SOFT_SHADES = "The art has soft shades on {share} % of its area, so it is screened as tone."
    # Tone, of scans and photographs.
    MIDDLE_GRAY = "The art is screened as tone: most of it is a middle gray (code {code})."
    NO_EVEN_GROUND = "The art is screened as tone: it has no even ground as paper has."
    LITTLE_GROUND = "The art is screened as tone: only {share} % of it is bare ground."
    NOTHING_STANDS_OUT = "The art is screened as tone: nothing in it stands out from its ground."
    MANY_DEPTHS = (
        "The art is screened as tone: its marks are of many depths ({share} % are shallow)."
    )
    BETWEEN_INK_AND_GROUND = (
        "The art is screened as tone: {share} % of its inked area lies between ink and ground."
    )
    TEXTURED = "The art is screened as tone: its wide inked parts are textured on {share} % of it."
    PALER_TINTS = (
        "The art is screened as tone: it has tints paler than its strokes on {share} % of it."
    )
    TINTS_OF_SEVERAL_DEPTHS = (
        "The art is screened as tone: it has tints of several depths on {share} % of its area."
    )
    CLOUDED = "The art is screened as tone: its ground is clouded, as that of a photograph is."
    EVEN_TINTS = (
        "The art has even tints between ground and solid on {share} % of its area, so it is "
        "screened as tone."
    )
    # Line art.
    DRAWN_IN_FLATS = (
        "The art is drawn in flats of ground and solid ink ({share} % of it exactly flat, no tints "
        "between), so it is treated as line art."
    )
    ON_PAPER = (
        "The art looks like a drawing on paper ({ground} % bare ground, {between} % of the inked "
        "area between ink and ground), so it is treated as line art."
    )
    # Kinds.
    TEXT = "It looks like text."
    FLATS = "It looks like shapes of flat tints."
    SIGNATURE = (
        "The art looks like writing on ruled paper ({count} even rules from edge to edge, paler "
        "than the ink), so it is treated as line art and the rules are kept out of the film; art: "
        "{{treat: line}} keeps them."
    )
    SCREENED_BEFORE = (
        "The art looks like a print that was screened already: dots every {period} of its pixels "
        "at {angle} degrees. New dots over old ones can make moire; the original without dots "
        "would be better."
    )
    MIXED = (
        "The art is a page with pictures or tints on {share} % of it: those are screened, and the "
        "strokes on the paper around them are cut as line art."
    )
    # Levels.
    STRETCHED = (
        "Tones were stretched: {dark} % tone became solid and {light} % clear film (tone: "
        "{{endpoints: off}} leaves them)."
    )
