"""What stands on the films that a printer is measured by."""

from __future__ import annotations

from filmhand.errors import Reason, RefusalSentence
from filmhand.language import Sentence


class DeviceSheetWord(Sentence):
    """The device sheet: its head, and what is seen on it, what that means and what to do."""

    TITLE = "DEVICE SHEET of profile {profile}: {dpi} dpi, 1 px = {pixel} µm, filmhand {version}"
    PRINT_IT = (
        "Print it at 100 % on the film you use, then look through a loupe. All lines and checkers "
        "are half ink, all dots a sixteenth: look for patches whose gray differs."
    )
    SIGN = "{number}. {seen} {means} {do}"
    ALL_THERE_SEEN = (
        "Lines and gaps of 1 px stand apart, and all lines and checkers are the same gray."
    )
    ALL_THERE_MEANS = "Every pixel of the file is on the film."
    ALL_THERE_DO = "Nothing: this is the dpi for your profile."
    HALF_THE_DPI_SEEN = "Lines of 1 px run together, those of 2 px stand apart."
    HALF_THE_DPI_MEANS = (
        "The printer lays down half the dpi that it takes, or spreads its ink by half a pixel."
    )
    HALF_THE_DPI_DO = (
        "Halve dpi in the profile, or raise the quality setting, and print this sheet again."
    )
    UNLIKE_ACROSS_SEEN = (
        "Upright lines stand apart and lying ones run together, or the other way about."
    )
    UNLIKE_ACROSS_MEANS = "The resolution differs across and down."
    UNLIKE_ACROSS_DO = (
        "Write both, such as dpi: 600 x 1200, with the lower number where lines run together."
    )
    SCALED_SEEN = "A checker shows waves, stripes or squares."
    SCALED_MEANS = "Something scaled the page or screened it again."
    SCALED_DO = (
        "Print at 100 % without fitting, one bit (black and white), no halftone or photo "
        "setting; use an IPP printer (print: in the profile) or a raw queue."
    )
    SMOOTHED_SEEN = "A checker is grainy gray, or its squares have soft gray edges under a loupe."
    SMOOTHED_MEANS = "Edge smoothing or resolution enhancement adds part-dots."
    SMOOTHED_DO = "Turn smoothing and enhancement off."
    DOTS_MISSING_SEEN = "Small dots are missing, large ones are there."
    DOTS_MISSING_MEANS = "The smallest dot that the printer holds is the first that is there."
    DOTS_MISSING_DO = (
        "Choose a coarser lpi or a higher tone.hold, so that no dot of the film is smaller."
    )
    SHADOW_DOTS_CLOSED_SEEN = "Small shadow dots are closed."
    SHADOW_DOTS_CLOSED_MEANS = "Ink or toner spreads by about half the first one that is open."
    SHADOW_DOTS_CLOSED_DO = (
        "Lower the density setting a step, or choose another film or media type."
    )
    SPECKS_SEEN = "There are specks in the clear field."
    SPECKS_MEANS = (
        "Evenly spaced: a filter on the way screened the page. Scattered: toner or ink dust."
    )
    SPECKS_DO = "Evenly spaced: print without that filter. Scattered: clean the printer."
    THIN_BLACK_SEEN = "Light shines through the solid, in pinholes, bands or all over."
    THIN_BLACK_MEANS = "The black is too thin for the exposure."
    THIN_BLACK_DO = (
        "Toner save off, density up, best quality, the media type for film; else film: {{stack: "
        "2}}."
    )


class RulerFilmWord(Sentence):
    """The ruler film: its head, and how to measure it."""

    TITLE = "RULER FILM of profile {profile}: {sheet}, {dpi} dpi, filmhand {version}"
    WHOLE_SCALE = (
        "Made without print.scale: what you measure is the whole scale and replaces an older one."
    )
    PRINT_IT = (
        "1. Print at 100 %, not fitted to the page, on the film you use. Let it cool and lie flat."
    )
    ACROSS = (
        "2. Across: lay a steel rule along the upper bar; measure from the left edge of line 0 to "
        "the left edge of line {across}."
    )
    DOWN = (
        "3. Down: lay it along the left bar; measure from the upper edge of line 0 to the upper "
        "edge of line {down}."
    )
    SCALE = (
        "4. Scale across = measured mm x 100 / {across}. Scale down = measured mm x 100 / {down}."
    )
    WRITE_IT = "5. Write both into the profile, across first: print: {{scale: [99.6 %, 100.2 %]}}"


class PrinterFilmRefusal(RefusalSentence):
    """Sheets that are too small for such a film."""

    NO_PATCHES = (
        Reason.TOO_BIG,
        "The sheet of {profile}, {sheet}, has no room for the patches of a device sheet.",
        "Make it with a profile of the same printer that has a larger sheet.",
    )
    NO_BARS = (
        Reason.TOO_BIG,
        "The sheet of {profile}, {sheet}, has no room for two bars of 10 mm.",
        "Make the ruler film with a profile of the same printer that has a larger sheet.",
    )
