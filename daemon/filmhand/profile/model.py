"""The profile as the program uses it: frozen, in millimetres, percent, degrees and seconds.

A profile file is checked against these classes, key by key: ``Annotated`` names the reader of each
setting (:mod:`filmhand.profile.values`), and the defaults stand here and nowhere else. To change a
profile in code use :func:`dataclasses.replace`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Literal

from filmhand.film.formats import Format
from filmhand.mesh.table import Mesh, read_mesh
from filmhand.profile.terms import (
    Channel,
    Detail,
    Dot,
    DotShape,
    Fit,
    GainCurve,
    Margin,
    OnBeat,
    Place,
    Treat,
    Turn,
)
from filmhand.profile.values import (
    NeedsCurves,
    number,
    read_dot,
    read_fit,
    read_flag,
    read_folder,
    read_formats,
    read_gain,
    read_hold,
    read_margin,
    read_memory,
    read_settle,
    read_stretch,
    read_takeover,
    whole,
    word,
)
from filmhand.units import Resolution, SheetSize, read_resolution, read_sheet

__all__ = [
    "ArtWishes",
    "Channel",
    "Detail",
    "Dot",
    "DotShape",
    "FilmLook",
    "Fit",
    "Format",
    "GainCurve",
    "Group",
    "Limits",
    "Margin",
    "Marks",
    "Mesh",
    "OnBeat",
    "Place",
    "Profile",
    "Settings",
    "ToneWishes",
    "Treat",
    "Turn",
]

Flag = Annotated[bool, read_flag]
_WHOLE_PAGE = Fit("page")


class Group:
    """Settings that belong together."""

    __slots__ = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ArtWishes(Group):
    """How art is read and laid out."""

    treat: Annotated[Treat, word(Treat)] = Treat.AUTO
    fit: Annotated[Fit, read_fit] = _WHOLE_PAGE
    turn: Annotated[Turn, word(Turn)] = Turn.AUTO
    place: Annotated[Place, word(Place)] = Place.CENTRE
    channel: Annotated[Channel, word(Channel)] = Channel.LUMINANCE
    detail: Annotated[Detail, word(Detail)] = Detail.AUTO


@dataclass(frozen=True, slots=True, kw_only=True)
class ToneWishes(Group):
    """What is done to the tones, all in percent of dot area.

    ``stretch`` is the share of pixels clipped at the black and white end; ``range`` multiplies
    contrast about 50 %; ``gain`` is taken off, as points at 50 % or by a measured curve.
    """

    stretch: Annotated[Literal["auto", "off"] | tuple[float, float], read_stretch] = "auto"
    range: Annotated[float, number(0.2, 5)] = 1.0
    lift: Annotated[float, number(-25, 25)] = 0.0
    clear: Annotated[float, number(0, 50)] = 0.0
    gain: Annotated[float | GainCurve, NeedsCurves(read_gain)] = 0.0
    hold: Annotated[Literal["auto", "off"] | tuple[float, float], read_hold] = "auto"


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks(Group):
    """What stands on the film beside the art."""

    label: Flag = True
    ruler: Flag = True
    solid: Flag = True
    steps: Flag = False
    register: Flag = False


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmLook(Group):
    """Which way round the film is."""

    mirror: Flag = False
    negative: Flag = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits(Group):
    """Ceilings for one job; ``seconds`` of work, ``memory`` in bytes."""

    megapixels: Annotated[float, number(0.001, 10_000)] = 400.0
    megabytes: Annotated[float, number(0.001, 100_000)] = 512.0
    pages: Annotated[int, whole(1, 10_000)] = 50
    seconds: Annotated[float, number(1, 86_400)] = 600.0
    memory: Annotated[int, read_memory] = 2 * 2**30
    beat: Annotated[OnBeat, word(OnBeat)] = OnBeat.WARN


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings(Group):
    """What a profile file says.

    ``lpi`` and ``dot`` are None only where no art can be screened, ``threshold`` only where none
    can be line art; ``mesh`` is None for ``none``; ``settle`` is None for ``auto``.
    """

    sheet: Annotated[SheetSize, read_sheet]
    dpi: Annotated[Resolution, read_resolution]
    lpi: Annotated[float | None, number(5, 200)] = None
    dot: Annotated[DotShape | None, read_dot] = None
    threshold: Annotated[float | None, number(1, 99)] = None
    mesh: Annotated[Mesh | None, read_mesh]
    margin: Annotated[Margin, read_margin]
    angle: Annotated[float, number(0, 180)] = 45.0
    art: ArtWishes = ArtWishes()
    tone: ToneWishes = ToneWishes()
    marks: Marks = Marks()
    film: FilmLook = FilmLook()
    write: Annotated[tuple[Format, ...], read_formats] = (Format.PDF,)
    settle: Annotated[float | None, read_settle] = None
    takeover: Annotated[float, read_takeover] = 900.0
    folder: Annotated[Path | None, read_folder] = None
    limits: Limits = Limits()


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile(Settings):
    """A profile that is right, with the file it came from.

    ``sha256`` is that of the file's bytes, ``text`` the file's text. ``settings`` (JSON) and
    ``curves`` are what the values were read from, so that another process can read them again.
    """

    name: str
    text: str = field(repr=False)
    sha256: str
    settings: str = field(repr=False)
    curves: tuple[tuple[str, str], ...] = field(default=(), repr=False)
