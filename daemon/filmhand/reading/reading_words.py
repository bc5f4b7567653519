"""What is said of scans of wedges, and of readings that were kept."""

from __future__ import annotations

from filmhand.language import Sentence


class KeptReadingWord(Sentence):
    """Why something that was kept as a reading is none."""

    NO_OBJECT = "it is no object of the schema {schema}"
    NO_NUMBER = "{key} must be a number from {least:g} to {most:g}"
    NO_TEXT = "{key} must be a text of at most {most} characters"
    NO_TRUTH = "{key} must be true or false"
    NO_LIST = "{key} must be a list of {least} to {most} members"
    NOT_OF = "of must be print or film"
    TONES_RISE = "the film tones of its patches must rise from one to the next"
