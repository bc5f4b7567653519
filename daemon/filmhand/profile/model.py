"""The profile as the program uses it: frozen, in millimeters, percent, degrees and seconds.

A profile file is checked against these classes, key by key: ``Annotated`` names the reader of each
setting (:mod:`filmhand.profile.read.values`), and the defaults stand here and nowhere else. To
change a profile in code use :func:`dataclasses.replace`.
"""

# Without postponed annotations: these are looked at, and each would be compiled from its text.

import json
from dataclasses import field
from pathlib import Path
from typing import Annotated, Literal

from filmhand.film.formats import Format
from filmhand.mesh.table import Mesh, read_mesh
from filmhand.profile.icc import IccWish, read_icc
from filmhand.profile.inks import (
    BLACK_GENERATION,
    LARGEST_TRAP_MM,
    WHITE_CLOTH,
    InkColor,
    InkWishes,
    Separate,
    Underbase,
    read_color,
    read_inks,
    read_percent,
    read_total_ink,
    read_underbase,
)
from filmhand.profile.notifying import NotifyWishes, read_notify
from filmhand.profile.printing import Budget, PrintWishes, read_budget, read_print
from filmhand.profile.read.curve import MEASURED
from filmhand.profile.read.groups import (
    numbers,
    read_crop,
    read_moire,
    read_repeat,
    read_short_length,
    read_sizes,
)
from filmhand.profile.read.values import (
    NeedsCurves,
    number,
    read_dot,
    read_endpoints,
    read_fit,
    read_flag,
    read_flag_or_auto,
    read_folder,
    read_formats,
    read_gain,
    read_hold,
    read_keep,
    read_language,
    read_margin,
    read_memory,
    read_micrometers,
    read_settle,
    read_takeover,
    read_workers,
    whole,
    word,
)
from filmhand.profile.terms import (
    Aim,
    Automatic,
    Channel,
    Crop,
    FailWarn,
    Fit,
    GainCurve,
    Margin,
    MoireLimits,
    OnMoire,
    OnScreened,
    Place,
    Repeat,
    Treat,
    Turn,
)
from filmhand.profile.ticket.gang import GangWishes, read_gang
from filmhand.screen.dot_shapes import DotShape
from filmhand.units import (
    PixelsPerInch,
    Resolution,
    SheetSize,
    read_frame,
    read_resolution,
    read_sheet,
)
from filmhand.values import dataclass

Flag = Annotated[bool, read_flag]
_WHOLE_PAGE = Fit("page")
_RESOLUTION = FailWarn(fail=1.0, warn=1.414)
_MOIRE = MoireLimits()
COARSEST_LPI = 5
"""The coarsest ruling that a profile takes."""
MOST_MEGAPIXELS = 10_000
"""The most pixels of an art that a profile can allow."""


class Group:
    """Settings that belong together."""

    __slots__ = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ArtWishes(Group):
    """How art is read and laid out.

    ``gap`` is that between the copies of ``repeat``, ``overlap`` that of the films of ``tile``,
    both in millimeters.
    """

    treat: Annotated[Treat, word(Treat)] = Treat.AUTO
    trim: Annotated[Automatic, word(Automatic)] = Automatic.OFF
    crop: Annotated[Crop | None, read_crop] = None
    fit: Annotated[Fit, read_fit] = _WHOLE_PAGE
    turn: Annotated[Turn, word(Turn)] = Turn.AUTO
    place: Annotated[Place, word(Place)] = Place.CENTER
    repeat: Annotated[Repeat | None, read_repeat] = None
    gap: Annotated[float, read_short_length(0, 100)] = 5.0
    tile: Annotated[Automatic, word(Automatic)] = Automatic.OFF
    overlap: Annotated[float, read_short_length(5, 100)] = 10.0
    channel: Annotated[Channel, word(Channel)] = Channel.LUMINANCE
    detail: Annotated[Automatic, word(Automatic)] = Automatic.AUTO


@dataclass(frozen=True, slots=True, kw_only=True)
class RepairWishes(Group):
    """What is repaired in art that needs it.

    ``light`` evens the light of a photographed drawing, ``paper`` makes tinted paper bare,
    ``faded`` brings up faint strokes, ``blocks`` smooths the squares of JPEG, ``skew`` straightens
    drawings, ``screened`` takes out the dots of art that was screened before.
    """

    light: Annotated[Automatic, word(Automatic)] = Automatic.AUTO
    paper: Annotated[Automatic, word(Automatic)] = Automatic.AUTO
    faded: Annotated[Automatic, word(Automatic)] = Automatic.AUTO
    blocks: Annotated[Automatic, word(Automatic)] = Automatic.AUTO
    skew: Annotated[Automatic, word(Automatic)] = Automatic.AUTO
    screened: Annotated[OnScreened, word(OnScreened)] = OnScreened.DESCREEN


@dataclass(frozen=True, slots=True, kw_only=True)
class ToneWishes(Group):
    """What is done to the tones, all in percent of dot area.

    ``endpoints`` is the share of pixels clipped at the black and white end; ``contrast`` multiplies
    about 50 %; ``midtone`` adds in the middle; tone up to ``dropout`` becomes clear film; ``gain``
    is what the press adds, as points at 50 % or as a measured curve, and ``aim`` what the print
    shall be.
    """

    endpoints: Annotated[Literal["auto", "off"] | tuple[float, float], read_endpoints] = "auto"
    contrast: Annotated[float, number(0.2, 5)] = 1.0
    midtone: Annotated[float, number(-25, 25)] = 0.0
    dropout: Annotated[float, number(0, 50)] = 0.0
    gain: Annotated[float | GainCurve, NeedsCurves(read_gain)] = 0.0
    aim: Annotated[Aim, word(Aim)] = Aim.TONE
    hold: Annotated[Literal["auto", "off"] | tuple[float, float], read_hold] = "auto"


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks(Group):
    """What stands on the film beside the art.

    ``register`` is None for ``auto``: on the films of a set.
    """

    label: Flag = True
    ruler: Flag = True
    solid: Flag = True
    steps: Flag = False
    register: Annotated[bool | None, read_flag_or_auto] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmLook(Group):
    """Which way round the film is, and how many of it are stacked to make one that is black."""

    mirror: Flag = False
    negative: Flag = False
    stack: Annotated[int, whole(1, 2)] = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Keep(Group):
    """For how many seconds finished work stays in its folders; None for ever.

    Refused art always stays.
    """

    films: Annotated[float | None, read_keep] = None
    proofs: Annotated[float | None, read_keep] = None
    records: Annotated[float | None, read_keep] = None
    originals: Annotated[float | None, read_keep] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits(Group):
    """Ceilings for one job; ``seconds`` of work, ``memory`` in bytes."""

    megapixels: Annotated[float, number(0.001, MOST_MEGAPIXELS)] = 400.0
    megabytes: Annotated[float, number(0.001, 100_000)] = 512.0
    pages: Annotated[int, whole(1, 10_000)] = 50
    seconds: Annotated[float, number(1, 86_400)] = 600.0
    memory: Annotated[int, read_memory] = 2 * 2**30
    moire: Annotated[OnMoire, word(OnMoire)] = OnMoire.WARN


@dataclass(frozen=True, slots=True, kw_only=True)
class VerdictLimits(Group):
    """Where the checks fail and warn, if not where the mesh and the trade's rules put it.

    ``dot`` to ``gap`` are in micrometers, None for those that follow from the mesh.
    ``resolution`` is in art pixels a screen line, ``line_resolution`` art pixels a device pixel,
    ``ratio`` threads a screen line, ``levels`` sizes of one dot; ``moire`` is a visibility.
    """

    dot: Annotated[FailWarn | None, read_sizes] = None
    shadow_dot: Annotated[FailWarn | None, read_sizes] = None
    stroke: Annotated[FailWarn | None, read_sizes] = None
    gap: Annotated[FailWarn | None, read_sizes] = None
    ratio: Annotated[float, number(0, 20)] = 3.5
    resolution: Annotated[FailWarn, numbers(0, 10, "{fail: 1, warn: 1.414}")] = _RESOLUTION
    line_resolution: Annotated[float, number(0, 2)] = 0.5
    levels: Annotated[float, number(0, 1000)] = 64.0
    moire: Annotated[MoireLimits, read_moire] = _MOIRE


@dataclass(frozen=True, slots=True, kw_only=True)
class Press(Group):
    """How mesh, light and ink change what is on the film; what the expected print is made with.

    ``mesh_angle`` is that of the threads against the sheet in degrees; ``film_gap`` the
    micrometers between film and emulsion; ``light_angle`` how far from upright light falls in,
    degrees; ``ink_spread`` the micrometers that ink runs beyond the stencil's edge;
    ``ink_passage`` how wide an opening must be, micrometers, for ink to come through.
    """

    mesh_angle: Annotated[float, number(0, 90)] = 0.0
    film_gap: Annotated[float, read_micrometers(0, 500)] = 20.0
    light_angle: Annotated[float, number(0, 60)] = 10.0
    ink_spread: Annotated[float, read_micrometers(0, 500)] = 5.0
    ink_passage: Annotated[float, read_micrometers(0, 100)] = 15.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings(Group):
    """What a profile file says.

    ``lpi`` and ``dot`` are None only where no art can be screened, ``threshold`` only where none
    can be line art; ``mesh`` is None for ``none``; ``settle`` is None for ``auto``,
    ``workers`` for ``own``, ``frame``, ``gang``, ``print``, ``budget`` and ``notify`` for ``off``.
    ``inks`` and ``underbase`` are None for ``off``; ``trap`` is in mm, ``total_ink`` a share
    (3 for 300 %), None for ``auto``, ``black_generation`` one from 0 to 1, and ``icc`` is None for
    ``off``.
    ``frame`` is the inside of the screen's frame. ``approve`` holds each film until somebody
    releases it. ``language`` is the code of the one that its jobs are told in; None for that of
    whoever runs filmhand, and English on the film, which is the same wherever it is made.
    """

    sheet: Annotated[SheetSize, read_sheet]
    dpi: Annotated[Resolution, read_resolution]
    lpi: Annotated[float | None, number(COARSEST_LPI, 200)] = None
    dot: Annotated[DotShape | None, read_dot] = None
    threshold: Annotated[float | None, number(1, 99)] = None
    mesh: Annotated[Mesh | None, read_mesh]
    margin: Annotated[Margin, read_margin]
    frame: Annotated[SheetSize | None, read_frame] = None
    angle: Annotated[float, number(0, 180)] = 45.0
    inks: Annotated[InkWishes | None, read_inks] = None
    separate: Annotated[Separate, word(Separate)] = Separate.AUTO
    cloth: Annotated[InkColor, read_color] = WHITE_CLOTH
    underbase: Annotated[Underbase | None, read_underbase] = None
    trap: Annotated[float, read_short_length(0, LARGEST_TRAP_MM, example="0.2")] = 0.0
    total_ink: Annotated[float | None, read_total_ink] = None
    black_generation: Annotated[float, read_percent(0, 100)] = BLACK_GENERATION
    icc: Annotated[IccWish | None, NeedsCurves(read_icc)] = None
    art: ArtWishes = ArtWishes()
    repair: RepairWishes = RepairWishes()
    tone: ToneWishes = ToneWishes()
    marks: Marks = Marks()
    film: FilmLook = FilmLook()
    write: Annotated[tuple[Format, ...], read_formats] = (Format.PDF,)
    settle: Annotated[float | None, read_settle] = None
    takeover: Annotated[float, read_takeover] = 900.0
    folder: Annotated[Path | None, read_folder] = None
    workers: Annotated[str | None, read_workers] = None
    language: Annotated[str | None, read_language] = None
    keep: Keep = Keep()
    gang: Annotated[GangWishes | None, read_gang] = None
    print: Annotated[PrintWishes | None, read_print] = None
    approve: Flag = False
    budget: Annotated[Budget | None, read_budget] = None
    notify: Annotated[NotifyWishes | None, read_notify] = None
    limits: Limits = Limits()
    verdict: VerdictLimits = VerdictLimits()
    press: Press = Press()

    @property
    def scale(self) -> tuple[float, float]:
        """What 1 across and 1 down measure on the film as this printer prints it."""
        return (1.0, 1.0) if self.print is None else self.print.scale

    @property
    def has_register_marks(self) -> bool:
        """Whether crosses stand on the film: asked for, or needed to lay two on one another."""
        asked = self.inks is not None if self.marks.register is None else self.marks.register
        return asked or self.film.stack > 1

    @property
    def acetate_dpi(self) -> PixelsPerInch:
        """The pixels that an inch of the printed film holds: all that is measured goes by these.

        ``dpi`` is for counting the sheet's pixels, and for printers and files.
        """
        return self.dpi.scaled(*self.scale)


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile(Settings):
    """A profile that is right, with the file it came from.

    ``sha256`` is that of the file's bytes, ``text`` the file's text. ``settings`` (JSON) and
    ``curves`` are what the values were read from, so that another process can read them again.
    ``passed_over`` are sentences on newer readings of the press that could not be used.
    """

    name: str
    text: str = field(repr=False)
    sha256: str
    settings: str = field(repr=False)
    curves: tuple[tuple[str, str], ...] = field(default=(), repr=False)
    passed_over: tuple[str, ...] = field(default=(), repr=False, compare=False)

    @property
    def waits_for_reading(self) -> bool:
        """Whether ``tone.gain`` is ``measured`` and no wedge of the profile was read yet."""
        return not isinstance(self.tone.gain, GainCurve) and self.goes_by_readings

    @property
    def goes_by_readings(self) -> bool:
        """Whether ``tone.gain`` is ``measured``."""
        asked = json.loads(self.settings).get("tone") or {}
        return bool(asked.get("gain") == MEASURED)
