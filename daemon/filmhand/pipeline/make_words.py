"""What the record tells of a film's making, and why art shares no sheet."""

from __future__ import annotations

from filmhand.language import Sentence


class MakeNote(Sentence):
    """Notes of one film."""

    NO_PAGE = "None of the pages {pages} became a film. Page {page}: {say}"
    PAGE_LEFT_OUT = "Page {page} was left out: {say} {do}"
    PAGES_LEFT_OUT = "Pages {pages} were left out: {say} {do}"
    PAGES_LEFT_OUT_ALIKE = "Pages {pages} were left out, of page {page} because: {say} {do}"
    PAGES_FROM_TO = "{first} to {last}"
    PART_OF_JOINED = (
        "The art is larger than the sheet; this film is {part}. Lay the films over one another "
        "until their crosses meet, tape them, and cut through both along the line between two "
        "crosses. Places in these notes are counted on the joined film."
    )
    NO_ROOM = "There was no room on the sheet for {marks}."
    NEGATIVE = "Negative: beyond the art the film stays clear and wants covering."


class SharesNoSheet(Sentence):
    """Why art goes alone where others share a sheet."""

    NOTHING_FITS = "nothing else fits on its sheet"
    REPEATED = "it lies on its sheet several times"
    PAGES = "it has several pages"
    TOO_LARGE = "it is too large to share a sheet"
