"""Which job a film becomes at a printer, and what is refused or held before anything is sent."""

from __future__ import annotations

import pytest
from printers import LARGE, LETTER, film_printer, sheet

from filmhand.printer.choice import choose_job
from filmhand.printer.ipp.message import IppValue, ValueTag
from filmhand.printer.ipp.words import (
    boolean,
    enum_value,
    integer,
    keywords,
    resolution_value,
    text_value,
)
from filmhand.printer.print_request import PDF, PWG, FilmSheet
from filmhand.printer.read_capabilities import read_capabilities
from filmhand.printer.trouble import PrinterTrouble, TroubleKind
from filmhand.profile.printing import PrintWishes
from filmhand.units import Resolution

ADDRESS = "ipp://film-printer.local/ipp/print"
FORMATS = tuple(IppValue(ValueTag.MIME_TYPE, one) for one in (PDF, PWG))


def film(size=LETTER, dpi=600, margin=(635,) * 4, **rest):
    return FilmSheet(*size, margin, Resolution(dpi, dpi), **rest)


def choose(sheet_of_film=None, wishes=None, *, copies=None, **changes):
    can = read_capabilities(film_printer(**changes))
    wished = PrintWishes(printer=ADDRESS, **(wishes or {}))
    return choose_job(can, sheet_of_film or film(), wished, name="poster 1", copies=copies)


def refused(kind, *arguments, **changes):
    with pytest.raises(PrinterTrouble) as caught:
        choose(*arguments, **changes)
    assert caught.value.kind is kind
    assert caught.value.nothing_sent
    assert str(caught.value).endswith(".")
    return str(caught.value)


def test_a_film_goes_as_a_raster_of_one_bit_with_all_said():
    job = choose()
    assert job.document_format == PWG
    assert job.size == LETTER
    assert job.media_name is None
    assert job.media_margins == (423,) * 4
    assert (job.media_type, job.media_source) == ("transparency", "main")
    assert (job.copies, job.quality, job.resolution) == (1, 5, Resolution(600, 600))
    assert (job.color_mode, job.scaling, job.sides) == ("bi-level", "none", "one-sided")
    assert job.warnings == ()


def test_what_the_printer_does_not_list_is_not_sent():
    job = choose(
        media_col_supported=keywords("media-size"),
        media_type_supported=None,
        print_color_mode_supported=None,
        print_scaling_supported=None,
        print_quality_supported=None,
        printer_resolution_supported=None,
        sides_supported=keywords("two-sided-long-edge"),
        copies_supported=None,
    )
    assert (job.media_type, job.media_source, job.copies, job.quality) == (None,) * 4
    assert (job.resolution, job.color_mode, job.scaling, job.sides) == (None,) * 4
    listed = choose(job_creation_attributes_supported=keywords("media-col", "print-quality"))
    assert (listed.quality, listed.copies, listed.sides, listed.scaling) == (5, None, None, None)


def test_monochrome_where_there_is_no_bi_level():
    assert choose(print_color_mode_supported=keywords("color", "monochrome")).color_mode == (
        "monochrome"
    )
    assert choose(print_color_mode_supported=keywords("color")).color_mode is None


# --- document and resolution ---------------------------------------------------------------------


def test_a_pdf_where_the_raster_is_not_to_be_had_at_the_films_resolution():
    at_600 = resolution_value(Resolution(600, 600))
    assert choose(pwg_raster_document_type_supported=keywords("sgray_8")).document_format == PDF
    assert choose(document_format_supported=FORMATS[:1]).document_format == PDF
    assert choose(film(dpi=1200)).document_format == PWG
    only_600 = {"pwg_raster_document_resolution_supported": at_600}
    say = refused(TroubleKind.UNABLE, film(dpi=1200), **only_600)
    assert "prints 600 dpi and the film has 1200; in the profile write dpi: 600." in say
    assert "600 or 1200 dpi and the film has 1000; in the profile write dpi: 1200." in refused(
        TroubleKind.UNABLE, film(dpi=1000)
    )
    no_pdf = {"document_format_supported": FORMATS[1:]}
    silent = {"pwg_raster_document_resolution_supported": None}
    assert "does not say at which resolution" in refused(TroubleKind.UNABLE, **no_pdf, **silent)
    both = at_600 + resolution_value(Resolution(1200, 1200))
    job = choose(film(dpi=1200), printer_resolution_supported=both, **only_600)
    assert (job.document_format, job.resolution) == (PDF, Resolution(1200, 1200))


def test_a_document_that_does_not_lie_there_is_not_chosen():
    assert choose(film(formats=(PDF,))).document_format == PDF


def test_a_pdf_at_a_resolution_that_nobody_tells_goes_with_a_warning():
    job = choose(document_format_supported=FORMATS[:1], printer_resolution_supported=None)
    assert job.document_format == PDF
    assert "does not say at which resolution" in job.warnings[0]


def test_a_printer_that_takes_no_bits_as_they_are():
    gray = {"pwg_raster_document_type_supported": keywords("sgray_8", "srgb_8")}
    say = refused(TroubleKind.UNABLE, document_format_supported=FORMATS[1:], **gray)
    assert "none of one bit" in say
    jpeg = (IppValue(ValueTag.MIME_TYPE, "image/jpeg"),)
    assert "neither PWG Raster nor PDF" in refused(
        TroubleKind.UNABLE, document_format_supported=jpeg
    )


def test_a_pdf_that_would_be_scaled_is_refused():
    scaled = {"print_scaling_supported": keywords("auto", "fit")}
    assert choose(**scaled).scaling is None  # a raster has pixels of its own
    say = refused(TroubleKind.UNABLE, document_format_supported=FORMATS[:1], **scaled)
    assert "always scales a PDF" in say
    job = choose(document_format_supported=FORMATS[:1], print_scaling_supported=None)
    assert "may scale a PDF" in job.warnings[0]


# --- sheets --------------------------------------------------------------------------------------


def test_a_sheet_that_the_printer_does_not_take():
    say = refused(TroubleKind.UNABLE, film((29700, 42000)))
    assert "takes no sheet of 297 x 420 mm (11.69 x 16.54 in); it takes" in say
    assert "takes 215.9 x 279.4 mm (8.5 x 11 in), 330.2 x 482.6 mm (13 x 19 in). In the" in say
    assert say.endswith("In the profile write one of those, such as sheet: 13 x 19 in.")
    say = refused(TroubleKind.UNABLE, film(LETTER[::-1]))
    turned = "the other way round; in the profile write sheet: {}, not {}."
    assert turned.format("215.9 x 279.4 mm", "279.4 x 215.9 mm") in say
    say = refused(TroubleKind.UNABLE, film(LETTER[::-1], in_inches=True))
    assert turned.format("8.5 x 11 in", "11 x 8.5 in") in say
    say = refused(TroubleKind.UNABLE, film((29700, 42000), in_inches=True))
    assert "takes no sheet of 11.69 x 16.54 in (297 x 420 mm); it takes 8.5 x 11 in (215.9" in say
    say = refused(TroubleKind.UNABLE, media_col_database=None)
    assert "does not say which sheets" in say


def test_sizes_that_differ_by_rounding_are_one_and_the_printers_is_sent():
    assert choose(film((21600, 27950))).size == LETTER
    refused(TroubleKind.UNABLE, film((21590, 27961)))
    assert choose(film((21590, 27960))).size == LETTER


def test_custom_sizes_and_rolls():
    roll = {"media_col_database": sheet((10000, 61000), (10000, 500000), (300,) * 4)}
    job = choose(film((45000, 90000)), media_col_ready=None, **roll)
    assert (job.size, job.media_margins) == ((45000, 90000), (300,) * 4)
    say = refused(TroubleKind.UNABLE, film((61100, 90000)), media_col_ready=None, **roll)
    assert "takes 100 x 100 mm (3.94 x 3.94 in) to 610 x 5000 mm (24.02 x 196.85 in)" in say
    names = keywords("roll_min_100x100mm", "roll_max_610x5000mm", "iso_a4_210x297mm")
    job = choose(film((45000, 90000)), media_col_ready=None, media_supported=names)
    assert job.size == (45000, 90000)


def test_a_printer_that_knows_media_by_name_only():
    job = choose(
        media_col_supported=None,
        media_col_database=None,
        media_col_ready=None,
        media_supported=keywords("na_letter_8.5x11in", "iso_a4_210x297mm", "default"),
        media_ready=keywords("na_letter_8.5x11in"),
    )
    assert (job.media_name, job.size) == ("na_letter_8.5x11in", LETTER)
    assert "cannot be told which sheet" in refused(TroubleKind.UNABLE, media_col_supported=None)


def test_margins_that_the_printer_needs():
    large = {"media_col_ready": None}
    assert choose(film(LARGE, margin=(635, 635, 1270, 635)), **large).media_margins == (
        300,
        423,
        1270,
        423,
    )
    say = refused(TroubleKind.UNABLE, film(LARGE), **large)
    assert "cannot reach 12.7 mm (0.5 in) at the bottom of this sheet" in say
    assert "the profile leaves 6.35 mm (0.25 in) clear" in say
    assert "margin: [6.35 mm, 6.35 mm, 12.7 mm, 6.35 mm]" in say
    say = refused(TroubleKind.UNABLE, film(LARGE, in_inches=True), **large)
    assert "cannot reach 0.5 in (12.7 mm) at the bottom of this sheet" in say
    assert "in the profile write margin: [0.25 in, 0.25 in, 0.5 in, 0.25 in]." in say
    job = choose(film(LETTER, margin=(400,) * 4))
    assert "in the profile write margin: 4.23 mm." in job.warnings[0]
    job = choose(film(LETTER, margin=(400,) * 4, in_inches=True))
    assert "in the profile write margin: 0.17 in." in job.warnings[0]
    assert choose(film(LETTER, margin=(round(17 * 25.4),) * 4)).warnings == ()


def test_without_margins_only_for_a_film_that_has_none():
    both = {"media_col_database": sheet(*LETTER, (0,) * 4) + sheet(*LETTER, (423,) * 4)}
    assert choose(**both).media_margins == (423,) * 4
    refused(TroubleKind.UNABLE, film(margin=(300, 300, 300, 300)), **both)
    job = choose(film(margin=(0,) * 4), **both)
    assert job.media_margins == (0,) * 4
    assert "may enlarge" in job.warnings[0]


def test_margins_go_by_media_and_tray():
    entries = sheet(*LETTER, (423,) * 4, type="stationery", source="main") + sheet(
        *LETTER, (500,) * 4, type="transparency", source="main"
    )
    assert choose(media_col_database=entries).media_margins == (500,) * 4


def test_margins_of_all_sheets_where_one_has_none_of_its_own():
    general = {
        f"media_{side}_margin_supported": integer(0) + integer(423)
        for side in ("top", "right", "bottom", "left")
    }
    job = choose(media_col_database=sheet(*LETTER), **general)
    assert job.media_margins == (423,) * 4


# --- media, tray, state --------------------------------------------------------------------------


def test_media_and_tray_of_the_profile():
    job = choose(wishes={"media": "stationery", "tray": "manual"})
    assert (job.media_type, job.media_source) == ("stationery", "manual")
    say = refused(TroubleKind.UNABLE, None, {"media": "vellum"})
    assert "no media 'vellum'" in say
    assert "stationery, transparency" in say
    assert "no tray 'bottom'" in refused(TroubleKind.UNABLE, None, {"tray": "bottom"})


def test_the_best_media_for_film():
    types = keywords("stationery", "photographic-glossy", "photographic-film")
    job = choose(media_type_supported=types, media_col_ready=None)
    assert job.media_type == "photographic-film"
    job = choose(media_type_supported=keywords("stationery"), media_col_ready=None)
    assert job.media_type is None


def test_another_sheet_in_the_tray_holds_the_film():
    say = refused(TroubleKind.OTHER_SHEET, media_col_ready=sheet(*LARGE, type="transparency"))
    assert "holds 330.2 x 482.6 mm (13 x 19 in) of transparency and the film needs" in say
    assert "needs 215.9 x 279.4 mm (8.5 x 11 in) of transparency; load that and tell" in say
    assert "print.media" not in say
    paper = {"media_col_ready": sheet(*LETTER, type="stationery")}
    say = refused(TroubleKind.OTHER_SHEET, **paper)
    assert "or name what lies there as print.media in the profile (stationery)" in say
    say = refused(TroubleKind.OTHER_SHEET, None, {"media": "transparency"}, **paper)
    assert "print.media" not in say
    ready = sheet(*LETTER, type="transparency", source="main")
    ready += sheet(*LARGE, source="other")
    say = refused(
        TroubleKind.OTHER_SHEET,
        None,
        {"tray": "other"},
        media_col_ready=ready,
        media_source_supported=keywords("main", "other"),
    )
    assert "The tray other of Acme Film 3 holds 330.2 x 482.6 mm (13 x 19 in)" in say
    assert choose(media_col_ready=None).media_source is None


def test_empty_trays_hold_the_film_and_unknown_ones_do_not():
    nothing = (IppValue(ValueTag.NO_VALUE, None),)
    assert "holds nothing" in refused(TroubleKind.OTHER_SHEET, media_col_ready=nothing)
    for unknown in ((IppValue(ValueTag.UNKNOWN, None),), keywords("odd")):
        assert choose(media_col_ready=unknown).media_source is None
    assert choose(media_col_ready=None, media_ready=keywords("some-paper")).media_source is None


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        (
            {"printer_state": enum_value(5), "printer_state_reasons": keywords("paused")},
            "is stopped: it is paused",
        ),
        ({"printer_state_reasons": keywords("cover-open-error")}, "is stopped: a cover is open"),
        ({"printer_is_accepting_jobs": boolean(False)}, "takes no jobs"),
        (
            {
                "printer_state": enum_value(5),
                "printer_state_message": text_value(ValueTag.TEXT, "See\nthe panel"),
            },
            "is stopped: Seethe panel",
        ),
    ],
)
def test_a_printer_that_prints_nothing_now_holds_the_queue(changes, why):
    assert why in refused(TroubleKind.STOPPED, **changes)


def test_a_busy_or_warning_printer_gets_the_film():
    assert choose(printer_state=enum_value(4)).size == LETTER
    assert choose(printer_state_reasons=keywords("toner-low-warning", "media-empty-warning"))


def test_what_can_never_be_printed_is_told_before_what_passes():
    stopped = {"printer_state": enum_value(5)}
    refused(TroubleKind.UNABLE, film((29700, 42000)), **stopped)


def test_copies():
    assert choose(copies=3).copies == 3
    assert choose(wishes={"copies": 2}).copies == 2
    assert "at most 20 copies" in refused(TroubleKind.UNABLE, copies=21)
    say = refused(TroubleKind.UNABLE, copies=2, copies_supported=None)
    assert "only one copy at a time and this film shall have 2" in say


# --- print servers -------------------------------------------------------------------------------


def test_a_queue_that_lays_documents_down_anew_is_refused():
    queue = {"printer_type": enum_value(8)}
    assert "dots are lost" in refused(TroubleKind.UNABLE, **queue)


def test_a_raw_queue_gets_the_raster_with_a_warning():
    queue = {
        name: None
        for name in film_printer()
        if name.startswith(("media", "pwg", "print-", "printer-resolution", "sides"))
    }
    queue = {name.replace("-", "_"): value for name, value in queue.items()} | {
        "printer_type": enum_value(8),
        "printer_make_and_model": text_value(ValueTag.TEXT, "Local Raw Printer"),
        "print_scaling_supported": keywords("auto", "none"),
    }
    job = choose(**queue)
    assert (job.document_format, job.size) == (PWG, LETTER)
    assert (job.media_name, job.media_margins) == ("na_letter_8.5x11in", None)
    assert (job.quality, job.resolution) == (5, Resolution(600, 600))
    assert (job.color_mode, job.scaling, job.sides) == ("bi-level", "none", "one-sided")
    assert "raw queue" in job.warnings[0]
    assert choose(film((20000, 40000)), **queue).media_name == "custom_200x400mm_200x400mm"
    say = refused(TroubleKind.UNABLE, None, {"media": "transparency"}, **queue)
    assert "lists no media" in say and "write media: auto" in say
    say = refused(TroubleKind.UNABLE, None, {"tray": "main"}, **queue)
    assert "lists no trays" in say and "write tray: auto" in say
