"""What is said of files of films, as they are written and read."""

from __future__ import annotations

from filmhand.errors import Reason, RefusalSentence
from filmhand.language import Sentence


class FilmFileRefusal(RefusalSentence):
    """The refusals of what is no film that can be read, and of a film that cannot be written."""

    NO_FILM = (
        Reason.NOT_ART,
        "{name} is not a film that can be read here.",
        "Give a one-bit TIFF, PNG or PWG Raster, or a film's PDF.",
    )
    NOT_PURE = (
        Reason.NOT_ART,
        "{name} is not a film: it has more than pure black and pure white.",
        "Give a one-bit film; art with grays is for filmhand make.",
    )
    CHANGED_PDF = (
        Reason.NOT_ART,
        "{name} is a PDF that filmhand did not write.",
        "Give the PDF as it was written, or the film as a one-bit TIFF or PNG.",
    )
    DAMAGED = (
        Reason.DAMAGED,
        "{name} is damaged and cannot be read to its end.",
        "Make or copy the film again.",
    )
    TOO_MANY_PIXELS = (
        Reason.TOO_BIG,
        "{name} has {millions} million pixels; a film is read up to {allowed} million.",
        "Give a film of a smaller sheet or of fewer dpi.",
    )
    TIFF_TOO_LONG = (
        Reason.TOO_BIG,
        "The film is larger than the 4 GB a TIFF can hold.",
        "Take a smaller sheet, fewer dpi, or leave tiff out of write.",
    )
    # Pages of other programs.
    EMPTY_PAGE = (
        Reason.NOT_ART,
        "The first page of {name} is empty.",
        "Give a film, a page with one-bit images.",
    )
    DRAWN_PAGE = (
        Reason.NOT_ART,
        "The page of {name} is drawn with letters or lines, and so has no device pixels of its "
        "own.",
        "Give the resolution to draw it at with --dpi, such as --dpi 600.",
    )
    PAGE_OF_SEVERAL = (
        Reason.NOT_ART,
        "The page of {name} is put together from images of several resolutions, or turned ones, "
        "and so has no device pixels of its own.",
        "Give the resolution to draw it at with --dpi, such as --dpi 600.",
    )


class FilmFileNote(Sentence):
    """How a film of another program was read."""

    FIRST_PAGE = "The first of {pages} pages was read."
    DRAWN_AT = (
        "The page is drawn with letters or lines, so it was drawn at {dpi} dpi; its finest detail "
        "is that of the drawing and not of a printer."
    )
    SEVERAL_DRAWN_AT = (
        "The page is put together from images of several resolutions, or turned ones, so it was "
        "drawn at {dpi} dpi; its finest detail is that of the drawing and not of a printer."
    )
    ONE_FLAT = (
        "All of the page is one flat, black or clear. The library draws an image that it cannot "
        "decode like that, so look at the file in another program."
    )
    COUNTED_AS = "Its pixels lie at {own} dpi, counted as {whole}."
    ASKED_LEFT_ASIDE = "It was read at its own {whole} dpi, and --dpi {asked} left aside."
