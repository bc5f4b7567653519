"""The profile as the program uses it: frozen, in millimetres, percent, degrees and seconds.

The models are also what a profile file is checked against, key by key; the defaults stand here and
nowhere else. To change a profile in code use ``model_copy(update=...)``.
"""

from __future__ import annotations

import warnings
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, PlainValidator

from filmhand.film.formats import Format
from filmhand.mesh.table import Mesh, read_mesh
from filmhand.profile.terms import (
    Channel,
    Dot,
    Fit,
    GainCurve,
    Margin,
    OnBeat,
    Place,
    Treat,
    Turn,
)
from filmhand.profile.values import (
    number,
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
    "Dot",
    "FilmLook",
    "Fit",
    "Format",
    "GainCurve",
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

Flag = Annotated[bool, PlainValidator(read_flag)]


class Group(BaseModel):
    """Settings that belong together."""

    model_config = ConfigDict(frozen=True, extra="forbid", arbitrary_types_allowed=True)


class ArtWishes(Group):
    """How art is read and laid out."""

    treat: Annotated[Treat, PlainValidator(word(Treat))] = Treat.AUTO
    fit: Annotated[Fit, PlainValidator(read_fit)] = Fit("page")
    turn: Annotated[Turn, PlainValidator(word(Turn))] = Turn.AUTO
    place: Annotated[Place, PlainValidator(word(Place))] = Place.CENTRE
    channel: Annotated[Channel, PlainValidator(word(Channel))] = Channel.LUMINANCE


class ToneWishes(Group):
    """What is done to the tones, all in percent of dot area.

    ``stretch`` is the share of pixels clipped at the black and white end; ``range`` multiplies
    contrast about 50 %; ``gain`` is taken off, as points at 50 % or by a measured curve.
    """

    stretch: Annotated[
        Literal["auto", "off"] | tuple[float, float], PlainValidator(read_stretch)
    ] = "auto"
    range: Annotated[float, PlainValidator(number(0.2, 5))] = 1.0
    lift: Annotated[float, PlainValidator(number(-25, 25))] = 0.0
    clear: Annotated[float, PlainValidator(number(0, 50))] = 0.0
    gain: Annotated[float | GainCurve, PlainValidator(read_gain)] = 0.0
    hold: Annotated[Literal["auto", "off"] | tuple[float, float], PlainValidator(read_hold)] = (
        "auto"
    )


# A class made by ABCMeta, as every model is, has a method "register"; an instance has not, so the
# field is free, and pydantic's warning about it is not about us.
with warnings.catch_warnings():
    warnings.filterwarnings("ignore", message='Field name "register"')

    class Marks(Group):
        """What stands on the film beside the art."""

        label: Flag = True
        ruler: Flag = True
        solid: Flag = True
        steps: Flag = False
        register: Flag = False


class FilmLook(Group):
    """Which way round the film is."""

    mirror: Flag = False
    negative: Flag = False


class Limits(Group):
    """Ceilings for one job; ``seconds`` of work, ``memory`` in bytes."""

    megapixels: Annotated[float, PlainValidator(number(0.001, 10_000))] = 400.0
    megabytes: Annotated[float, PlainValidator(number(0.001, 100_000))] = 512.0
    pages: Annotated[int, PlainValidator(whole(1, 10_000))] = 50
    seconds: Annotated[float, PlainValidator(number(1, 86_400))] = 600.0
    memory: Annotated[int, PlainValidator(read_memory)] = 2 * 2**30
    beat: Annotated[OnBeat, PlainValidator(word(OnBeat))] = OnBeat.WARN


class Settings(Group):
    """What a profile file says.

    ``lpi`` and ``dot`` are None only where no art can be screened, ``threshold`` only where none
    can be line art; ``mesh`` is None for ``none``; ``settle`` is None for ``auto``.
    """

    sheet: Annotated[SheetSize, PlainValidator(read_sheet)]
    dpi: Annotated[Resolution, PlainValidator(read_resolution)]
    lpi: Annotated[float | None, PlainValidator(number(5, 200))] = None
    dot: Annotated[Dot | None, PlainValidator(word(Dot))] = None
    threshold: Annotated[float | None, PlainValidator(number(1, 99))] = None
    mesh: Annotated[Mesh | None, PlainValidator(read_mesh)]
    margin: Annotated[Margin, PlainValidator(read_margin)]
    angle: Annotated[float, PlainValidator(number(0, 180))] = 45.0
    art: ArtWishes = ArtWishes()
    tone: ToneWishes = ToneWishes()
    marks: Marks = Marks()
    film: FilmLook = FilmLook()
    write: Annotated[tuple[Format, ...], PlainValidator(read_formats)] = (Format.PDF,)
    settle: Annotated[float | None, PlainValidator(read_settle)] = None
    takeover: Annotated[float, PlainValidator(read_takeover)] = 900.0
    folder: Annotated[Path | None, PlainValidator(read_folder)] = None
    limits: Limits = Limits()


class Profile(Settings):
    """A profile that is right, with the file it came from.

    ``sha256`` is that of the file's bytes, ``text`` the file's text. ``settings`` (JSON) and
    ``curves`` are what the values were read from, so that another process can read them again.
    """

    name: str
    text: str = Field(repr=False)
    sha256: str
    settings: str = Field(repr=False)
    curves: tuple[tuple[str, str], ...] = Field(default=(), repr=False)
