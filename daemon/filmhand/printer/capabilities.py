"""What a printer can do, and how it is now: its answer to Get-Printer-Attributes, judged once."""

from __future__ import annotations

from enum import IntEnum

from filmhand.units import Resolution
from filmhand.values import dataclass


class PrinterState(IntEnum):
    """The states of a printer (RFC 8011, section 5.4.11)."""

    IDLE = 3
    PROCESSING = 4
    STOPPED = 5


@dataclass(frozen=True, slots=True)
class MediaEntry:
    """One sheet that a printer takes, or that lies in a tray; lengths in 1/100 mm.

    Attributes
    ----------
    width, height : each the smallest and the largest; alike for a fixed size
    margins : top, right, bottom, left, that it cannot reach; None where it does not say
    type, source : which media type and tray this is for; None for any
    name : its keyword, where the printer tells of it by that alone
    """

    width: tuple[int, int]
    height: tuple[int, int]
    margins: tuple[int, int, int, int] | None = None
    type: str | None = None
    source: str | None = None
    name: str | None = None


@dataclass(frozen=True, slots=True)
class SupplyLevel:
    """Ink or toner: its name, and percent left, or None where it does not say."""

    name: str
    percent: int | None


@dataclass(frozen=True, slots=True)
class Capabilities:
    """What a printer says of itself; whatever it does not say is empty or None.

    Attributes
    ----------
    name : as people may know it: make and model, else its own name
    state, reasons, accepting, message : how it is now; reasons are IPP's keywords
    formats : MIME types of documents
    media : all sheets that it takes, with their margins
    ready : what lies in its trays; None where it does not say
    types, sources : media types and trays; empty where it does not say
    color_modes, scalings, qualities, sides : the values that it takes
    copies : the fewest and the most; None where it does not say
    resolutions : for documents other than raster
    raster_resolutions, raster_types : of PWG Raster
    operations : codes of what it can be asked
    job_attributes, media_members : names that it takes in a job, and in media-col; None where it
        does not say
    supplies : ink or toner
    queue : it is a queue of a print server, not the printer itself
    filters : it is a queue that lays documents down anew, so that bits are lost
    """

    name: str
    state: PrinterState = PrinterState.IDLE
    reasons: tuple[str, ...] = ()
    accepting: bool = True
    message: str = ""
    formats: tuple[str, ...] = ()
    media: tuple[MediaEntry, ...] = ()
    ready: tuple[MediaEntry, ...] | None = None
    types: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()
    color_modes: tuple[str, ...] = ()
    scalings: tuple[str, ...] = ()
    qualities: tuple[int, ...] = ()
    sides: tuple[str, ...] = ()
    copies: tuple[int, int] | None = None
    resolutions: tuple[Resolution, ...] = ()
    raster_resolutions: tuple[Resolution, ...] = ()
    raster_types: tuple[str, ...] = ()
    operations: frozenset[int] = frozenset()
    job_attributes: frozenset[str] | None = None
    media_members: frozenset[str] | None = None
    supplies: tuple[SupplyLevel, ...] = ()
    queue: bool = False
    filters: bool = False
