"""Which job a film becomes at a printer, or one sentence why it becomes none. Nothing is sent.

A printer's yes proves nothing: printers take a job and scale it, or print it with other margins.
So all that matters is compared here with what the printer says it can do, and only values that it
lists are asked for.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TypeVar

from filmhand.printer.capabilities import Capabilities, MediaEntry, PrinterState
from filmhand.printer.ipp.words import HIGH_QUALITY
from filmhand.printer.media_sizes import (
    dpi_list,
    is_range,
    media_size_text,
    mm_text,
    nearest_length,
    sheet_fits,
    sizes_list,
)
from filmhand.printer.print_request import PDF, PWG, FilmSheet, PrintJobRequest
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
_SIDES = ("top", "right", "bottom", "left")


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
        raise _unable(
            f"{can.name} is a print server's queue that lays films down anew, so that dots are "
            "lost; write the printer's own address, or that of a raw queue."
        )
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
            warnings.append(
                f"{can.name} is a raw queue, which does not say what its printer can do; look at "
                "the first film's ruler and checkers."
            )
            return PWG
        if BLACK in can.raster_types and film.dpi in can.raster_resolutions:
            return PWG
    if PDF in film.formats and PDF in can.formats:
        if film.dpi in can.resolutions:
            return PDF
        if not can.resolutions:
            warnings.append(
                f"{can.name} does not say at which resolution it prints a PDF; look at the first "
                "film's checkers."
            )
            return PDF
        raise _unable(
            f"{can.name} prints {dpi_list([*can.resolutions, *_raster_dpi(can)])} dpi and the "
            f"film has {film.dpi}; write one of those as dpi in the profile."
        )
    if PWG in can.formats and BLACK not in can.raster_types:
        raise _unable(
            f"{can.name} takes rasters, but none of one bit ({BLACK}), and no PDF: it would screen "
            "the dots again; print the film in positives/ in another way."
        )
    if PWG in can.formats:
        raise _unable(
            f"{can.name} prints {dpi_list(can.raster_resolutions)} dpi and the film has "
            f"{film.dpi}; write one of those as dpi in the profile."
        )
    raise _unable(
        f"{can.name} takes neither PWG Raster nor PDF, and filmhand sends nothing else; print the "
        "film in positives/ in another way."
    )


def _raster_dpi(can: Capabilities) -> tuple[Resolution, ...]:
    usable = PWG in can.formats and BLACK in can.raster_types
    return can.raster_resolutions if usable else ()


def _scaling(can: Capabilities, document: str, warnings: list[str]) -> str | None:
    found = _listed(can, "print-scaling", can.scalings, "none")
    if found is None and document == PDF:
        if can.scalings and "none" not in can.scalings:
            raise _unable(
                f"{can.name} always scales a PDF ({', '.join(can.scalings[:5])}), and takes no "
                "raster of one bit at the film's resolution; print the film in another way."
            )
        warnings.append(f"{can.name} may scale a PDF; measure the ruler of the first film.")
    return found


# --- the sheet -----------------------------------------------------------------------------------


def _entries_of_size(can: Capabilities, film: FilmSheet) -> list[MediaEntry]:
    """The entries for the film's sheet, fixed sizes before ranges."""
    if not can.media:
        raise _unable(
            f"{can.name} does not say which sheets it takes; print the film in another way."
        )
    fits = [one for one in can.media if sheet_fits(one, film.width, film.height)]
    if not fits:
        size = mm_text(film.width, film.height)
        if any(sheet_fits(one, film.height, film.width) for one in can.media):
            raise _unable(
                f"{can.name} takes this sheet only the other way round; write sheet: "
                f"{mm_text(film.height, film.width)} in the profile in place of {size}."
            )
        raise _unable(
            f"{can.name} takes no sheet of {size}; it takes {sizes_list(can.media)}. Write one of "
            "those as sheet in the profile."
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
            warnings.append(
                "The printer prints to the edge, and may enlarge the sheet for that; measure the "
                "ruler of the first film."
            )
        return chosen
    assert chosen.margins is not None
    pairs = list(zip(chosen.margins, film.margin, _SIDES, strict=True))
    lost, kept, side = max(pairs, key=lambda pair: pair[0] - pair[1])
    say = (
        f"The printer cannot reach {lost / 100:g} mm at the {side} of this sheet and the profile "
        f"leaves {kept / 100:g} mm clear; write margin: {_margin(pairs)} in the profile."
    )
    if short > CLIPPED_A_LITTLE:
        raise _unable(say)
    warnings.append(say)
    return chosen


def _media_name(can: Capabilities, entry: MediaEntry) -> str | None:
    """The keyword of the sheet, where the printer cannot be told its size; else None."""
    if "media-size" in (can.media_members or ()):
        return None
    if entry.name is not None and _takes(can, "media"):
        return entry.name
    raise _unable(
        f"{can.name} cannot be told which sheet to print on; print the film in another way."
    )


def _shortfall(one: MediaEntry, film: FilmSheet) -> int:
    """By how much the printer's margin exceeds the film's, where it does so most."""
    margins = one.margins or (0, 0, 0, 0)
    return max(0, *(lost - kept for lost, kept in zip(margins, film.margin, strict=True)))


def _margin(pairs: list[tuple[int, int, str]]) -> str:
    needed = [max(lost, kept) for lost, kept, _ in pairs]
    texts = [f"{one / 100:g} mm" for one in needed]
    return texts[0] if len(set(texts)) == 1 else f"[{', '.join(texts)}]"


# --- media and tray ------------------------------------------------------------------------------


def _media_type(can: Capabilities, wishes: PrintWishes, entries: list[MediaEntry]) -> str | None:
    """What the profile names, else the best for film that this size comes in."""
    if wishes.media is not None:
        if wishes.media not in can.types:
            raise _unable(
                f"{can.name} has no media {wishes.media!r}; write one of its own as print.media in "
                f"the profile ({_words(can.types)}), or auto."
            )
        return wishes.media
    of_size = {one.type for one in entries}
    possible = can.types if None in of_size else [one for one in can.types if one in of_size]
    return next((one for one in FILM_TYPES if one in possible), None)


def _source(can: Capabilities, wishes: PrintWishes) -> str | None:
    if wishes.tray is None:
        return None
    if wishes.tray not in can.sources:
        raise _unable(
            f"{can.name} has no tray {wishes.tray!r}; write one of its own as print.tray in the "
            f"profile ({_words(can.sources)}), or auto."
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
    where = f"The tray {source} of {can.name}" if source else f"{can.name}"
    found = ", ".join(list(dict.fromkeys(map(_load, of_size or in_tray)))[:6]) or "nothing"
    wanted = mm_text(film.width, film.height) + (f" of {kind}" if kind else "")
    other = " or name what lies there as print.media in the profile" if of_size else ""
    if of_size and wishes.media is not None:
        other = ""
    raise PrinterTrouble(
        f"{where} holds {found} and the film needs {wanted}; load that and tell the printer so at "
        f"its panel{',' + other if other else ''}. The film waits.",
        TroubleKind.OTHER_SHEET,
        nothing_sent=True,
    )


def _load(one: MediaEntry) -> str:
    return media_size_text(one) + (f" of {one.type}" if one.type else "")


def _words(words: Sequence[str]) -> str:
    if not words:
        return "it lists none"
    return ", ".join(words[:20]) + (", …" if len(words) > 20 else "")


# --- the rest ------------------------------------------------------------------------------------


def _check_ready_to_print(can: Capabilities) -> None:
    """PrinterTrouble while it prints nothing at all."""
    why = ", ".join(printer_reasons(can.reasons)) or can.message
    if can.state == PrinterState.STOPPED or stops_printing(can.reasons):
        say = f"{can.name} is stopped: {why or 'it does not say why'}. The films wait."
    elif not can.accepting:
        say = f"{can.name} takes no jobs{': ' + why if why else ''}. The films wait."
    else:
        return
    raise PrinterTrouble(say, TroubleKind.STOPPED, nothing_sent=True)


def _copies(can: Capabilities, copies: int) -> int | None:
    low, high = can.copies if can.copies and _takes(can, "copies") else (0, 0)
    if low <= copies <= high:
        return copies
    if copies == 1:
        return None
    raise _unable(
        f"{can.name} prints at most {max(1, high)} copies at once and this film shall have "
        f"{copies}; write fewer, and print it again."
    )


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


def _unable(say: str) -> PrinterTrouble:
    return PrinterTrouble(say, TroubleKind.UNABLE, nothing_sent=True)
