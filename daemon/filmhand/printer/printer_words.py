"""What is said of printers, of what they can do and of what is in the way, one row a sentence."""

from __future__ import annotations

from filmhand.language import Counted, Sentence
from filmhand.printer.trouble import TroubleKind, TroubleSentence

_UNABLE, _STOPPED, _WRONG = TroubleKind.UNABLE, TroubleKind.STOPPED, TroubleKind.WRONG


class ChoiceTrouble(TroubleSentence):
    """Why a film cannot become a job at a printer, or not now."""

    LAYS_DOTS_ANEW = (
        "{name} is a print server's queue that lays films down anew, so that dots are lost; write "
        "the printer's own address, or that of a raw queue, as print.printer in the profile.",
        _UNABLE,
    )
    # the document
    OTHER_DPI = (
        "{name} prints {able} dpi and the film has {found}; in the profile write dpi: {nearest}.",
        _UNABLE,
    )
    NO_DPI = (
        "{name} does not say at which resolution it prints; print the film in positives/ in "
        "another way.",
        _UNABLE,
    )
    NOT_ONE_BIT = (
        "{name} takes rasters, but none of one bit ({word}), and no PDF: it would screen the dots "
        "again; print the film in positives/ in another way.",
        _UNABLE,
    )
    NEITHER_FORM = (
        "{name} takes neither PWG Raster nor PDF, and filmhand sends nothing else; print the film "
        "in positives/ in another way.",
        _UNABLE,
    )
    ALWAYS_SCALES = (
        "{name} always scales a PDF ({ways}), and takes no raster of one bit at the film's "
        "resolution; print the film in positives/ in another way.",
        _UNABLE,
    )
    # the sheet
    NO_SHEETS = (
        "{name} does not say which sheets it takes; print the film in positives/ in another way.",
        _UNABLE,
    )
    OTHER_WAY_ROUND = (
        "{name} takes this sheet only the other way round; in the profile write sheet: {turned}, "
        "not {written}.",
        _UNABLE,
    )
    NO_SUCH_SHEET = (
        "{name} takes no sheet of {size}; it takes {sizes}. In the profile write one of those, "
        "such as sheet: {nearest}.",
        _UNABLE,
    )
    CANNOT_REACH = (
        "The printer cannot reach {lost} {where} and the profile leaves {kept} clear; in the "
        "profile write margin: {margin}.",
        _UNABLE,
    )
    CANNOT_BE_TOLD_SHEET = (
        "{name} cannot be told which sheet to print on; print the film in positives/ in another "
        "way.",
        _UNABLE,
    )
    # media and tray
    NO_SUCH_MEDIA = (
        "{name} has no media '{wanted}'; write one of its own as print.media in the profile "
        "({words}), or auto.",
        _UNABLE,
    )
    LISTS_NO_MEDIA = (
        "{name} lists no media, and so none that is '{wanted}'; write media: auto under print in "
        "the profile.",
        _UNABLE,
    )
    NO_SUCH_TRAY = (
        "{name} has no tray '{wanted}'; write one of its own as print.tray in the profile "
        "({words}), or auto.",
        _UNABLE,
    )
    LISTS_NO_TRAYS = (
        "{name} lists no trays, and so none that is '{wanted}'; write tray: auto under print in "
        "the profile.",
        _UNABLE,
    )
    OTHER_SHEET_LOADED = (
        "{where} holds {found} and the film needs {wanted}; load that and tell the printer so at "
        "its panel. The film waits.",
        TroubleKind.OTHER_SHEET,
    )
    OTHER_MEDIA_LOADED = (
        "{where} holds {found} and the film needs {wanted}; load that and tell the printer so at "
        "its panel, or name what lies there as print.media in the profile ({media}). The film "
        "waits.",
        TroubleKind.OTHER_SHEET,
    )
    # how it is now
    STOPPED = ("{name} is stopped: {why}. The films wait.", _STOPPED)
    TAKES_NO_JOBS = ("{name} takes no jobs. The films wait.", _STOPPED)
    TAKES_NO_JOBS_SINCE = ("{name} takes no jobs: {why}. The films wait.", _STOPPED)


class MostCopies(Counted):
    """That a printer makes fewer copies than a film shall have."""

    AT_ONCE = (
        "{name} prints only one copy at a time and this film shall have {copies}; take copies out "
        "of its ticket, and print.copies and film.stack out of the profile, then cancel this film "
        "and drop its art again.",
        "{name} prints at most {n} copies at once and this film shall have {copies}; write fewer "
        "as copies in its ticket, or as print.copies or film.stack in the profile, then cancel "
        "this film and drop its art again.",
    )


class ChoiceWarning(Sentence):
    """What may go wrong with a film that is sent all the same."""

    RAW_QUEUE = (
        "{name} is a raw queue, which does not say what its printer can do; look at the first "
        "film's ruler and checkers."
    )
    PDF_DPI_UNKNOWN = (
        "{name} does not say at which resolution it prints a PDF; look at the first film's "
        "checkers."
    )
    MAY_SCALE = "{name} may scale a PDF; measure the ruler of the first film."
    TO_THE_EDGE = (
        "The printer prints to the edge, and may enlarge the sheet for that; measure the ruler of "
        "the first film."
    )


class MediaWord(Sentence):
    """Sheets, trays and sides, within other sentences."""

    FROM_TO = "{smallest} to {largest}"
    OF_KIND = "{size} of {kind}"
    IN_TRAY = "{load} in {tray}"
    TRAY_OF = "The tray {tray} of {name}"
    NOTHING = "nothing"
    AT_TOP = "at the top of this sheet"
    AT_RIGHT = "at the right of this sheet"
    AT_BOTTOM = "at the bottom of this sheet"
    AT_LEFT = "at the left of this sheet"
    NO_REASON = "it does not say why"
    NAMELESS = "The printer"


class PrinterDoing(Sentence):
    """What a printer does just now, with its films or without; status has the English word."""

    IDLE = "idle"
    WAITS = "waits"
    PAUSED = "paused"
    IS_SENT = "is sent"
    HAS_FILM = "has the film"
    HOLDS_FILM = "holds the film"
    PRINTS = "prints"
    STOPPED = "stopped"


class MediaCount(Counted):
    """Lists that are too long to be told whole."""

    MORE = ("{listed} and {n} more", "{listed} and {n} more")


class AbilityWord(Sentence):
    """What a printer can do for film, for whoever looks for one."""

    COMPARE_CERTIFICATE = (
        "Nobody vouches for its certificate: compare the SHA-256 below with what the printer's own "
        "page or panel tells."
    )
    AS_RASTER = "Films go as PWG Raster of one bit, at {able} dpi."
    AS_RASTER_BY_QUEUE = "It is a raw queue: films go as PWG Raster, if its printer takes that."
    AS_PDF = "Films go as PDF, at {able} dpi; look at the first one's ruler and checkers."
    AS_PDF_OF_OWN_DPI = (
        "Films go as PDF, at its own dpi; look at the first one's ruler and checkers."
    )
    KEEPS_NO_DOTS = (
        "It takes nothing that keeps a film's dots: no raster of one bit, and no PDF that it "
        "leaves as it is."
    )
    SHEETS = "Sheets: {sizes}."
    NO_SHEETS = "It does not say which sheets."
    MEDIA = "Media for film: {media}."
    NO_MEDIA = "It lists no media for film."
    TRAYS = "Trays: {trays}."
    LOADED = "Loaded: {loads}."
    NOW = "Now: {reasons}."
    SUPPLIES = "Ink or toner: {levels}."
    OR_ELSE = "or {words}"


class DiscoveryTrouble(Sentence):
    """Why no printers can be looked for."""

    NO_LIBRARY = (
        "Looking for printers needs an addition that is not installed: {command}. Without it, "
        "write the printer's address as print.printer in the profile."
    )
    NO_NETWORK = (
        "The network cannot be listened to for printers ({why}); write the printer's address as "
        "print.printer in the profile."
    )


class SessionTrouble(TroubleSentence):
    """What a printer did that none should."""

    WOULD_PRINT_WITHOUT = (
        "The printer at {host} lists {words}, but would print without; the job was canceled. Look "
        "for an update of the printer, or print the film in another way.",
        TroubleKind.REFUSED,
    )
    SENSELESS = (
        "The printer at {host} answers what makes no sense ({what}); switch it off and on, or look "
        "at the address in the profile.",
        _WRONG,
    )


class SenselessAnswer(Sentence):
    """What of an answer makes no sense."""

    NOTHING_OF_ITSELF = "it tells nothing of itself"
    NOTHING_OF_JOB = "it does not say what its job {number} does"
    NO_NUMBER = "it took a job and gave it no number"
