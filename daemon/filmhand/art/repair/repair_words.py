"""What the record tells of repairs."""

from __future__ import annotations

from filmhand.language import Sentence


class RepairNote(Sentence):
    """What was done to paper and strokes, or could not be."""

    EVENED = (
        "The paper was evened out: its darkest part had {share} % of the light of its lightest."
    )
    PAPER_BARED = "The paper was taken as clear film: it reflects {share} % of the light."
    STROKES_BROUGHT_UP = (
        "Faint strokes ({share} % darker than the paper) were brought up to full ink."
    )
    INK_BROUGHT_UP = (
        "The darkest ink of the art has a tone of {tone} %; it was brought up to solid, since one "
        "ink is printed with one film."
    )
    CLIPPED = (
        "Codes up to {black} count as solid ink and from {white} as clear, as {solid} % and "
        "{clear} % were asked to be clipped."
    )
    NO_PAPER = "The art shows no paper around strokes, so it was neither evened nor cleaned."
    NO_STROKE = "No stroke stands out from the paper."
    GRAIN_SMOOTHED = "Paper grain was smoothed."
    SPECKS_TAKEN_OFF = "Specks far smaller than the strokes were taken off."
    RULES_TAKEN_OFF = "The rules of the paper were taken off."
