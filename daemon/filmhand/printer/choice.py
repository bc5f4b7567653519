"""Which job a film becomes at a printer, or one sentence why it becomes none. Nothing is sent.

A printer's yes proves nothing: printers take a job and scale it, or print it with other margins.
So all that matters is compared here with what the printer says it can do, and only values that it
lists are asked for.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TypeVar

from filmhand.language import or_list
from filmhand.printer.capabilities import Capabilities, MediaEntry, PrinterState
from filmhand.printer.ipp.words import HIGH_QUALITY
from filmhand.printer.media_sizes import (
    as_written,
    dpi_list,
    is_range,
    lengths_text,
    media_size_text,
    nearest_length,
    nearest_sheet,
    sheet_as_written,
    sheet_fits,
    sizes_list,
)
from filmhand.printer.print_request import PDF, PWG, FilmSheet, PrintJobRequest
from filmhand.printer.printer_words import ChoiceTrouble, ChoiceWarning, MediaWord, MostCopies
from filmhand.printer.reasons import printer_reasons, stops_printing
from filmhand.printer.trouble import PrinterTrouble, TroubleKind
from filmhand.profile.printing import PrintWishes
from filmhand.units import Resolution, SheetSize

_Value = TypeVar("_Value")

CLIPPED_A_LITTLE = 100  # 1/100 mm of the profile's own margin that may be lost with a warning
BLACK = "black_1"
# Media types for film, the best first (words of PWG 5101.1; the order is common practice, no
# source): ink-jets lay more ink on them, lasers fuse slower.
FILM_TYPES = (
    "transparency",
    "film",
    "photographic-film",
    "polyester",
    "back-print-film",
    "photographic-glossy",
    "photographic-high-gloss",
    "photographic",
)
_BY_HAND = frozenset({"manual", "by-pass-tray"})  # trays that wait for somebody with a sheet
_SIDES = (MediaWord.AT_TOP, MediaWord.AT_RIGHT, MediaWord.AT_BOTTOM, MediaWord.AT_LEFT)


def choose_job(
    can: Capabilities, film: FilmSheet, wishes: PrintWishes, *, name: str, copies: int | None = None
) -> PrintJobRequest:
    """The job for this film, of exactly its bits.

    `copies` are those of the film, the profile's where None.

    Raises
    ------
    PrinterTrouble
        UNABLE where the printer cannot print this film; else STOPPED or OTHER_SHEET, which pass.
        Always with `nothing_sent`.
    """
    warnings: list[str] = []
    if can.filters:
        raise ChoiceTrouble.LAYS_DOTS_ANEW.before_sending(name=can.name)
    if can.queue and not can.raster_types:
        can = _passing_on(can, film)
    document = _document(can, film, warnings)
    entries = _entries_of_size(can, film)
    kind = _media_type(can, wishes, entries)
    source = _source(can, wishes)
    _check_ready_to_print(can)
    tray = _loaded(can, film, kind, source, wishes)
    entry = _entry(entries, film, kind, source or (tray.source if tray else None), warnings)
    return PrintJobRequest(
        name=name,
        document_format=document,
        size=(nearest_length(film.width, entry.width), nearest_length(film.height, entry.height)),
        media_name=_media_name(can, entry),
        media_margins=entry.margins,
        media_type=_asked(can, "media-type", kind),
        media_source=_asked(can, "media-source", source or (tray.source if tray else None)),
        copies=_copies(can, wishes.copies if copies is None else copies),
        quality=_listed(can, "print-quality", can.qualities, HIGH_QUALITY),
        resolution=_listed(can, "printer-resolution", can.resolutions, film.dpi),
        color_mode=_listed(can, "print-color-mode", can.color_modes, "bi-level", "monochrome"),
        scaling=_scaling(can, document, warnings),
        sides=_listed(can, "sides", can.sides, "one-sided"),
        warnings=tuple(warnings),
    )


# --- the document --------------------------------------------------------------------------------


def _passing_on(can: Capabilities, film: FilmSheet) -> Capabilities:
    """A raw queue, as if it listed what it passes on: it knows nothing of its printer.

    Collections such as media-col are lost on the way (CUPS 2.4), so the sheet goes by its name.
    """
    entry = MediaEntry(
        (film.width, film.width),
        (film.height, film.height),
        name=SheetSize(film.width, film.height).media_name,
    )
    return replace(
        can,
        media=(entry,),
        media_members=None,
        qualities=can.qualities or (HIGH_QUALITY,),
        resolutions=can.resolutions or (film.dpi,),
        color_modes=can.color_modes or ("bi-level",),
        sides=can.sides or ("one-sided",),
    )


def _document(can: Capabilities, film: FilmSheet, warnings: list[str]) -> str:
    if PWG in film.formats and PWG in can.formats:
        if can.queue and not can.raster_types:
            warnings.append(ChoiceWarning.RAW_QUEUE.say(name=can.name))
            return PWG
        if BLACK in can.raster_types and film.dpi in can.raster_resolutions:
            return PWG
    if PDF in film.formats and PDF in can.formats:
        if film.dpi in can.resolutions:
            return PDF
        if not can.resolutions:
            warnings.append(ChoiceWarning.PDF_DPI_UNKNOWN.say(name=can.name))
            return PDF
        raise _other_dpi(can, film, [*can.resolutions, *_raster_dpi(can)])
    if PWG in can.formats and BLACK not in can.raster_types:
        raise ChoiceTrouble.NOT_ONE_BIT.before_sending(name=can.name, word=BLACK)
    if PWG in can.formats:
        raise _other_dpi(can, film, can.raster_resolutions)
    raise ChoiceTrouble.NEITHER_FORM.before_sending(name=can.name)


def _other_dpi(can: Capabilities, film: FilmSheet, able: Sequence[Resolution]) -> PrinterTrouble:
    if not able:
        return ChoiceTrouble.NO_DPI.before_sending(name=can.name)
    nearest = min(able, key=lambda one: abs(one.x - film.dpi.x) + abs(one.y - film.dpi.y))
    return ChoiceTrouble.OTHER_DPI.before_sending(
        name=can.name, able=dpi_list(able), found=film.dpi, nearest=nearest
    )


def _raster_dpi(can: Capabilities) -> tuple[Resolution, ...]:
    usable = PWG in can.formats and BLACK in can.raster_types
    return can.raster_resolutions if usable else ()


def _scaling(can: Capabilities, document: str, warnings: list[str]) -> str | None:
    found = _listed(can, "print-scaling", can.scalings, "none")
    if found is None and document == PDF:
        if can.scalings and "none" not in can.scalings:
            ways = ", ".join(can.scalings[:5])
            raise ChoiceTrouble.ALWAYS_SCALES.before_sending(name=can.name, ways=ways)
        warnings.append(ChoiceWarning.MAY_SCALE.say(name=can.name))
    return found


# --- the sheet -----------------------------------------------------------------------------------


def _entries_of_size(can: Capabilities, film: FilmSheet) -> list[MediaEntry]:
    """The entries for the film's sheet, fixed sizes before ranges."""
    if not can.media:
        raise ChoiceTrouble.NO_SHEETS.before_sending(name=can.name)
    fits = [one for one in can.media if sheet_fits(one, film.width, film.height)]
    if not fits:
        if any(sheet_fits(one, film.height, film.width) for one in can.media):
            raise ChoiceTrouble.OTHER_WAY_ROUND.before_sending(
                name=can.name,
                turned=sheet_as_written(film.height, film.width, in_inches=film.in_inches),
                written=sheet_as_written(film.width, film.height, in_inches=film.in_inches),
            )
        raise ChoiceTrouble.NO_SUCH_SHEET.before_sending(
            name=can.name,
            size=lengths_text(film.width, film.height, in_inches=film.in_inches),
            sizes=sizes_list(can.media, film.in_inches),
            nearest=nearest_sheet(can.media, film.width, film.height),
        )
    return sorted(fits, key=is_range)


def _entry(
    entries: list[MediaEntry],
    film: FilmSheet,
    kind: str | None,
    source: str | None,
    warnings: list[str],
) -> MediaEntry:
    """The entry whose margins hold for this media, and whether the film keeps clear of them."""
    of_media = [
        one
        for one in entries
        if (one.type is None or kind is None or one.type == kind)
        and (one.source is None or source is None or one.source == source)
    ]
    fitting = of_media or entries
    # Without margins many ink-jets enlarge the sheet, so that is for a film that has none either.
    edge_to_edge = not any(film.margin)
    ordered = [one for one in fitting if one.margins is None or any(one.margins) != edge_to_edge]
    chosen = min(ordered or fitting, key=lambda one: (_shortfall(one, film), is_range(one)))
    short = _shortfall(chosen, film)
    if not short:
        if chosen.margins is not None and not any(chosen.margins):
            warnings.append(ChoiceWarning.TO_THE_EDGE.say())
        return chosen
    assert chosen.margins is not None
    pairs = list(zip(chosen.margins, film.margin, _SIDES, strict=True))
    lost, kept, side = max(pairs, key=lambda pair: pair[0] - pair[1])
    trouble = ChoiceTrouble.CANNOT_REACH.before_sending(
        lost=lengths_text(lost, in_inches=film.in_inches),
        where=side.say(),
        kept=lengths_text(kept, in_inches=film.in_inches),
        margin=_margin([max(lost, kept) for lost, kept, _ in pairs], in_inches=film.in_inches),
    )
    if short > CLIPPED_A_LITTLE:
        raise trouble
    warnings.append(trouble.say)
    return chosen


def _media_name(can: Capabilities, entry: MediaEntry) -> str | None:
    """The keyword of the sheet, where the printer cannot be told its size; else None."""
    if "media-size" in (can.media_members or ()):
        return None
    if entry.name is not None and _takes(can, "media"):
        return entry.name
    raise ChoiceTrouble.CANNOT_BE_TOLD_SHEET.before_sending(name=can.name)


def _shortfall(one: MediaEntry, film: FilmSheet) -> int:
    """By how much the printer's margin exceeds the film's, where it does so most."""
    margins = one.margins or (0, 0, 0, 0)
    return max(0, *(lost - kept for lost, kept in zip(margins, film.margin, strict=True)))


def _margin(needed: list[int], *, in_inches: bool) -> str:
    texts = [as_written(one, in_inches=in_inches) for one in needed]
    return texts[0] if len(set(texts)) == 1 else f"[{', '.join(texts)}]"


# --- media and tray ------------------------------------------------------------------------------


def _media_type(can: Capabilities, wishes: PrintWishes, entries: list[MediaEntry]) -> str | None:
    """What the profile names, else the best for film that this size comes in."""
    if wishes.media is not None:
        if not can.types:
            raise ChoiceTrouble.LISTS_NO_MEDIA.before_sending(name=can.name, wanted=wishes.media)
        if wishes.media not in can.types:
            raise ChoiceTrouble.NO_SUCH_MEDIA.before_sending(
                name=can.name, wanted=wishes.media, words=_words(can.types)
            )
        return wishes.media
    of_size = {one.type for one in entries}
    possible = can.types if None in of_size else [one for one in can.types if one in of_size]
    return next((one for one in FILM_TYPES if one in possible), None)


def _source(can: Capabilities, wishes: PrintWishes) -> str | None:
    if wishes.tray is None:
        return None
    if not can.sources:
        raise ChoiceTrouble.LISTS_NO_TRAYS.before_sending(name=can.name, wanted=wishes.tray)
    if wishes.tray not in can.sources:
        raise ChoiceTrouble.NO_SUCH_TRAY.before_sending(
            name=can.name, wanted=wishes.tray, words=_words(can.sources)
        )
    return wishes.tray


def _loaded(
    can: Capabilities, film: FilmSheet, kind: str | None, source: str | None, wishes: PrintWishes
) -> MediaEntry | None:
    """The loaded tray that the film goes to; None where the printer does not say what is loaded."""
    if can.ready is None or source in _BY_HAND:
        return None
    in_tray = [one for one in can.ready if source is None or one.source in {None, source}]
    of_size = [one for one in in_tray if sheet_fits(one, film.width, film.height)]
    right = [one for one in of_size if kind is None or one.type in {None, kind}]
    if right:
        return next((one for one in right if one.type == kind), right[0])
    loads = [load_text(one, film.in_inches) for one in of_size or in_tray]
    parts = {
        "where": MediaWord.TRAY_OF.say(tray=source, name=can.name) if source else can.name,
        "found": ", ".join(list(dict.fromkeys(loads))[:6]) or MediaWord.NOTHING.say(),
        "wanted": _of_kind(lengths_text(film.width, film.height, in_inches=film.in_inches), kind),
    }
    if of_size and wishes.media is None:
        media = or_list(list(dict.fromkeys(one.type for one in of_size if one.type))[:6])
        raise ChoiceTrouble.OTHER_MEDIA_LOADED.before_sending(media=media, **parts)
    raise ChoiceTrouble.OTHER_SHEET_LOADED.before_sending(**parts)


def load_text(one: MediaEntry, in_inches: bool | None = None) -> str:
    """What lies in a tray."""
    return _of_kind(media_size_text(one, in_inches), one.type)


def _of_kind(size: str, kind: str | None) -> str:
    return MediaWord.OF_KIND.say(size=size, kind=kind) if kind else size


def _words(words: Sequence[str]) -> str:
    return ", ".join(words[:20]) + (", …" if len(words) > 20 else "")


# --- the rest ------------------------------------------------------------------------------------


def _check_ready_to_print(can: Capabilities) -> None:
    """PrinterTrouble while it prints nothing at all."""
    why = ", ".join(printer_reasons(can.reasons)) or can.message
    if can.state == PrinterState.STOPPED or stops_printing(can.reasons):
        why = why or MediaWord.NO_REASON.say()
        raise ChoiceTrouble.STOPPED.before_sending(name=can.name, why=why)
    if not can.accepting:
        row = ChoiceTrouble.TAKES_NO_JOBS_SINCE if why else ChoiceTrouble.TAKES_NO_JOBS
        raise row.before_sending(name=can.name, why=why)


def _copies(can: Capabilities, copies: int) -> int | None:
    low, high = can.copies if can.copies and _takes(can, "copies") else (0, 0)
    if low <= copies <= high:
        return copies
    if copies == 1:
        return None
    say = MostCopies.AT_ONCE.say(max(1, high), name=can.name, copies=copies)
    raise PrinterTrouble(say, TroubleKind.UNABLE, nothing_sent=True)


def _listed(
    can: Capabilities, attribute: str, listed: Iterable[_Value], *wanted: _Value
) -> _Value | None:
    """The first of the wanted values that the printer lists for the attribute."""
    if not _takes(can, attribute):
        return None
    there = list(listed)
    return next((one for one in wanted if one in there), None)


def _asked(can: Capabilities, member: str, value: str | None) -> str | None:
    takes = can.media_members is not None and member in can.media_members
    return value if takes else None


def _takes(can: Capabilities, attribute: str) -> bool:
    return can.job_attributes is None or attribute in can.job_attributes
