"""The plates of a PDF page whose colors are inks, each drawn by the library that draws pages."""

from __future__ import annotations

from io import BytesIO

from filmhand.art.drawings.pdf import draw_page
from filmhand.art.drawings.vector import Sizing
from filmhand.art.files import extras
from filmhand.art.files.decode import ExaminedFile
from filmhand.art.files.file_words import AdditionWord
from filmhand.art.formats.channel_names import plain_name
from filmhand.art.opened_art import Art
from filmhand.art.plates.art_plates import ArtPlates, plates_of_grays
from filmhand.art.plates.pdf_color_spaces import OTHER_COLORS
from filmhand.art.plates.pdf_recoloring import PageRecoloring
from filmhand.profile.model import Limits
from filmhand.tone import FULL

# All three are the same of a gray page; nothing is told of a page that is white, as plates may be.
_CHANNEL = "red"


def pdf_plate_names(found: ExaminedFile, page: int) -> tuple[str, ...] | None:
    """The names of the plates of a page, none where its colors are not those of inks.

    None where its colors are not understood. Raises Refused (not-art) without the library.
    """
    recolored = _recolored(found, page, OTHER_COLORS)
    return None if recolored is None else tuple(map(plain_name, _plates(recolored[0])))


def pdf_plates(
    found: ExaminedFile, page: int, limits: Limits, sizing: Sizing | None
) -> ArtPlates | None:
    """The plates of a page; None where it has none.

    Raises
    ------
    Refused
        as :func:`filmhand.art.drawings.pdf.draw_page` does
    """
    looked = _recolored(found, page, OTHER_COLORS)
    names = () if looked is None else _plates(looked[0])
    if looked is None or not names:
        return None

    def drawn(content: bytes) -> Art:
        return draw_page(
            found, page=page, channel=_CHANNEL, limits=limits, sizing=sizing, content=content
        )

    others = (
        bool((drawn(looked[1]).coded < FULL).any()) if OTHER_COLORS in looked[0].found else False
    )

    def plate(name: str) -> Art:
        recolored = _recolored(found, page, name)
        assert recolored is not None
        return drawn(recolored[1])

    plates = plates_of_grays(tuple(map(plain_name, names)), map(plate, names))
    plates.other_colors = others
    return plates


def _plates(recoloring: PageRecoloring) -> tuple[str, ...]:
    if not recoloring.has_inks:
        return ()
    return tuple(name for name in recoloring.found if name != OTHER_COLORS)


def _recolored(found: ExaminedFile, page: int, ink: str) -> tuple[PageRecoloring, bytes] | None:
    """The document with a page in the gray of one plate; None where its colors are not understood.

    A page that can be drawn may still be one that the other library cannot read.
    """
    library = extras.load("pikepdf", name=found.name, what=AdditionWord.PDF_INKS)
    content = BytesIO(found.path.read_bytes())
    try:
        with library.open(content) as document:
            recoloring = PageRecoloring(library, document, ink)
            recoloring.recolor(document.pages[page])
            made = BytesIO()
            document.save(made)
    except MemoryError:
        raise  # the document is not to blame
    # What is odd in a stranger's document is met in every way that Python knows.
    except Exception:
        return None
    return recoloring, made.getvalue()
