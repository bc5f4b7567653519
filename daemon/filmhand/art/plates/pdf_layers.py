"""The layers of a PDF page: optional content groups (ISO 32000-1, 8.11).

A renderer draws what the document's settings show. To have some layers drawn alone all others are
set to off there, and whatever would turn them on again is taken out; what is off already stays so.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from contextlib import AbstractContextManager
from io import BytesIO
from typing import Any

from filmhand.art.drawings.pdf import page_colors
from filmhand.art.drawings.vector import Sizing
from filmhand.art.files import extras
from filmhand.art.files.decode import ExaminedFile
from filmhand.art.files.file_words import AdditionWord
from filmhand.art.formats.channel_names import plain_name
from filmhand.art.opened_art import DrawnColors
from filmhand.art.plates.art_layers import ArtLayer
from filmhand.profile.model import Limits
from filmhand.values import dataclass

_DEEPEST = 12
_MOST_LAYERS = 500

_Id = tuple[int, int]


@dataclass(frozen=True, slots=True)
class PdfLayers:
    """A page in layers; see :class:`filmhand.art.plates.art_layers.LayeredArt`."""

    file: ExaminedFile
    page: int
    limits: Limits
    groups: Sequence[tuple[_Id, str]]

    @property
    def layers(self) -> Sequence[ArtLayer]:
        """From the lowest to the topmost."""
        named = [ArtLayer((name,) if name else (), at) for at, (_, name) in enumerate(self.groups)]
        return [*named, ArtLayer((), len(named))]

    def drawn(
        self, layers: Collection[ArtLayer], sizing: Sizing | None
    ) -> AbstractContextManager[DrawnColors]:
        """Some of the layers on nothing."""
        # What lies in no layer cannot be set to off, so it is drawn with any of them.
        kept = {self.groups[one.place][0] for one in layers if one.place < len(self.groups)}
        content = self.only(kept)
        return page_colors(
            self.file, page=self.page, limits=self.limits, sizing=sizing, content=content
        )

    def only(self, kept: Collection[_Id]) -> bytes:
        """The document with all other groups set to off."""
        library = _library(self.file)
        with library.open(BytesIO(self.file.path.read_bytes())) as document:
            settings = document.Root["/OCProperties"]
            if "/Configs" in settings:
                del settings["/Configs"]
            shown = settings["/D"]
            if "/AS" in shown:
                del shown["/AS"]
            others = [one for one in settings["/OCGs"] if one.objgen not in kept]
            ids = {one.objgen for one in others}
            stay = [one for one in shown.get("/ON", []) if one.objgen not in ids]
            off = [one for one in shown.get("/OFF", []) if one.objgen not in ids]
            shown["/ON"], shown["/OFF"] = library.Array(stay), library.Array([*off, *others])
            for one in others:
                if "/Usage" in one:
                    del one["/Usage"]
            made = BytesIO()
            document.save(made)
        return made.getvalue()


def pdf_layers(found: ExaminedFile, page: int, limits: Limits) -> PdfLayers | None:
    """The layers of a page; None where it has none, or where they are not understood.

    Raises Refused (not-art) without the library.
    """
    library = _library(found)
    content = found.path.read_bytes()
    if b"/OCProperties" not in content and b"/ObjStm" not in content:
        return None
    try:
        with library.open(BytesIO(content)) as document:
            settings = document.Root.get("/OCProperties")
            if settings is None or "/D" not in settings:
                return None
            there = set(_met(library, document.pages[page].obj))
            groups = [
                (one.objgen, plain_name(str(one.get("/Name", ""))))
                for one in list(settings["/OCGs"])[:_MOST_LAYERS]
                if one.objgen in there
            ]
        layers = PdfLayers(found, page, limits, groups)
        # What is odd in its settings comes out when all are set to off.
        return layers if groups and layers.only(()) else None
    except MemoryError:
        raise  # the document is not to blame
    # What is odd in a stranger's document is met in every way that Python knows.
    except Exception:
        return None


def _met(library: Any, page: Any) -> Iterator[_Id]:
    """The groups that a page, and all that it draws, asks about."""
    waiting: list[tuple[Any, int]] = [(page, 0), *((note, 0) for note in page.get("/Annots", []))]
    done: set[_Id] = set()
    while waiting:
        holder, depth = waiting.pop()
        yield from _asked(holder.get("/OC"))
        resources = holder.get("/Resources", library.Dictionary())
        for said in resources.get("/Properties", {}).values():
            yield from _asked(said)
        for kind in ("/XObject", "/Pattern"):
            for inner in resources.get(kind, {}).values():
                if depth < _DEEPEST and inner.objgen not in done:
                    done.add(inner.objgen)
                    waiting.append((inner, depth + 1))


def _asked(said: Any) -> Iterator[_Id]:
    """The groups of which what is said depends: one, or those of a membership (8.11.2.2)."""
    if said is None:
        return
    if str(said.get("/Type", "")) != "/OCMD":
        yield said.objgen
        return
    groups = said.get("/OCGs", [])
    for one in [groups] if "/Type" in groups else groups:
        yield one.objgen


def _library(file: ExaminedFile) -> Any:
    return extras.load("pikepdf", name=file.name, what=AdditionWord.PDF_INKS)
