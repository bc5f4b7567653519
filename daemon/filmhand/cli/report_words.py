"""What reports of figures say: of a profile, of a finished film, of a print, of a station."""

from __future__ import annotations

from filmhand.language import Sentence


class ReportCaption(Sentence):
    """What stands before a row of a report, in nine letters or a few more."""

    SHEET = "sheet"
    SCALE = "scale"
    FRAME = "frame"
    SCREEN = "screen"
    INKS = "inks"
    INK = "ink"
    MESH = "mesh"
    HOLDS = "holds"
    LOST = "lost"
    MEASURED = "measured"
    FINEST = "finest"
    TONES_AT = "tones at"
    BY_LPI = "by lpi"
    MOIRE = "moire"
    LESS_AT = "less at"
    TONE = "tone"
    MADE_BY = "made by"
    WARNING = "warning"
    MORE = "more"

    # Of a finished film, and of its print.
    COVERAGE = "coverage"
    DOTS = "dots"
    SHADOW_DOTS = "shadow dots"
    STROKES = "strokes"
    GAPS = "gaps"
    NOTE = "note"
    WORST = "worst"
    BANDS = "bands"
    PICTURE = "picture"
    PASS = "pass"
    WARN = "warn"
    FAIL = "fail"

    # Of a station.
    COUNTS = "counts"
    FAULT = "fault"
    WORKING = "working"
    WAITING = "waiting"
    LEFT_ALONE = "left alone"
    HELD = "held"
    MADE = "made"
    REFUSED = "refused"
    FILMS = "films"
    AT_PRINTER = "printing"
    PRINTER_WAITS = "waits"
    PAUSED = "paused"
    DOUBTFUL = "doubtful"


class TableHead(Sentence):
    """The columns of the table of profiles, and the words in them."""

    PROFILE = "profile"
    SHEET = "sheet"
    MESH = "mesh"
    SCREEN = "screen"
    TONES = "tones"
    WARNS = "warned"
    LPI = "{lpi} lpi"
    LPI_AT = "{lpi} lpi, {angle}°"
    LINE_ART = "line art"
    DPI = "{dpi} dpi"
    NONE = "none"
    NO = "no"
    MORE_OF_ONE = "Tell more of one with: filmhand check FILE"


class ReportWord(Sentence):
    """The rows themselves."""

    NONE = "none"

    # Sheet and screen of a profile.
    SHEET = "{size}, {dpi} dpi"
    SHEET_IN_PIXELS = "{size}, {across} x {down} px, {dpi} dpi"
    SCALE = "{across} % across, {down} % down: taken off, so lengths are right on film"
    FRAME = "{inside} inside, prints at most {prints}"
    NO_SCREEN = "none: line art only"
    SCREEN = "{lpi} lpi, {dot}, a dot can take {levels} sizes"
    SCREEN_AT = "{lpi} lpi at {angle} degrees, {dot}, a dot can take {levels} sizes"
    SCREEN_MADE = (
        "{lpi} lpi (asked {lpi_asked}), no angle (asked {angle_asked}), {dot}, a dot can take "
        "{levels} sizes"
    )
    SCREEN_MADE_AT = (
        "{lpi} lpi (asked {lpi_asked}), {angle} deg (asked {angle_asked}), {dot}, a dot can take "
        "{levels} sizes"
    )
    MADE_BY_CLUSTER = "the cluster at {address}"

    # The mesh and what it holds.
    SET_FOUND = "found in the art, one film each (separate: {mode})"
    SET_LINE = "{k} {ink}, mesh {mesh}"
    SET_FILM = "{k} {ink}: {lpi} lpi, mesh {mesh}"
    SET_FILM_AT = "{k} {ink}: {lpi} lpi at {angle} degrees, mesh {mesh}"
    OVERPRINTS = "{ink}, overprints"
    NO_MESH_OF_INK = "none"
    NO_MESH = "none: films are not judged"
    THREAD_ASSUMED = "{mesh}, thread assumed"
    MESH = "{mesh}, opening {opening} µm: {per_inch} threads an inch, {per_cm} a cm"
    MESH_IN_FULL = (
        "{mesh}, opening {opening} µm, open area {open_area} %, thickness {thickness} µm, ink "
        "volume {ink} cm3/m2"
    )
    STRETCHED = "{mesh}, stretched {stretch} %"
    DOTS = "dots from {dot} µm, shadow dots from {shadow_dot} µm"
    DOTS_ALIKE = "dots and shadow dots from {size} µm"
    STROKES = "strokes from {stroke} µm, gaps from {gap} µm"
    STROKES_ALIKE = "strokes and gaps from {size} µm"
    LOST_LINES = "strokes of {stroke} µm or less, gaps of {gap} µm or less"
    TONES = "tones {low} to {high} %"
    NO_TONE = "no tone that prints evenly"
    HOLDS_TONES = "{sizes}, {tones}"
    HOLDS_FINEST = "{holds}; finest advisable ruling {lpi} lpi"
    FINEST = "{lpi} lpi is advisable on this mesh"

    # Bands with the mesh.
    BANDS_SEEN_MOST = "seen most: bands {apart} apart, visibility {visibility}"
    BANDS = (
        "bands {apart} apart at {direction} deg, changing the ink by {ink} %, visibility "
        "{visibility}, at {stretch} % stretch (mesh/dot order {orders})"
    )
    ANGLE = "angle {value}"
    LPI = "lpi {value}"
    MESH_ANGLE = "mesh angle {value}"
    AS_SHARP = (
        "{change}: visibility {visibility}, bands {apart} apart changing the ink by {ink} %, as "
        "sharp"
    )
    FINER = (
        "{change}: visibility {visibility}, bands {apart} apart changing the ink by {ink} %, "
        "{percent} % finer"
    )
    SOFTER = (
        "{change}: visibility {visibility}, bands {apart} apart changing the ink by {ink} %, "
        "{percent} % softer"
    )
    STILL_WARNS = "{offer}; still warns"
    LESS_WITH = "{keys} in the profile; one change is enough"
    STILL_WARNS_WITH = "{keys} in the profile; less, but each still warns"

    # Tones from the art to the print.
    MIDDLE_TONE = (
        "{art} % in the art is {film} % on the film, and {print} % in print if the press adds "
        "nothing; what yours adds was not measured (tone.gain)"
    )
    MIDDLE_TONE_OF_GAIN = (
        "{art} % in the art is {film} % on the film and {print} % in print, if the press adds "
        "{gain} points (tone.gain)"
    )
    MIDDLE_TONE_MEASURED = (
        "{art} % in the art is {film} % on the film and {print} % in print, on the press as "
        "measured (tone.gain)"
    )
    ART_PERCENT = "art %"
    FILM_PERCENT = "film %"
    PRINT_PERCENT = "print %"
    NOT_LIGHTER = (
        "no film of this profile prints lighter than {light} %, but for bare and solid (tone.hold)"
    )
    NOT_DARKER = (
        "no film of this profile prints darker than {dark} %, but for bare and solid (tone.hold)"
    )
    NEITHER = (
        "no film of this profile prints lighter than {light} % or darker than {dark} %, but for "
        "bare and solid (tone.hold)"
    )

    # A finished film.
    FILM_SIZE = "{across} x {down} px at {dpi} dpi, {size}"
    NO_SCREEN_FOUND = "none found"
    SCREEN_OF_DOTS = "dots, {lpi} lpi at {angle} deg"
    SCREEN_OF_LINES = "lines, {lpi} lpi at {angle} deg"
    SIZES = "{count}, smallest {smallest} µm, median {median} µm"
    NARROWEST = "narrowest {width} µm"
    AT_LEAST = "{found}, wanted at least {limit}"
    AT_MOST = "{found}, wanted at most {limit}"
    NO_DOTS = "no dots to measure"
    NO_SHADOW_DOTS = "no shadow dots to measure"
    NO_STROKES = "no strokes to measure"
    NO_GAPS = "no gaps to measure"
    WORST_DOT = "dot of {width} µm at {place} from the sheet's top left corner"
    WORST_SHADOW_DOT = "shadow dot of {width} µm at {place} from the sheet's top left corner"
    WORST_STROKE = "stroke of {width} µm at {place} from the sheet's top left corner"
    WORST_GAP = "gap of {width} µm at {place} from the sheet's top left corner"

    # The print to expect.
    PRESS = (
        "{mesh} at {angle} deg; light takes {undercut} µm off every edge, ink needs openings of "
        "{passage} µm and spreads {spread} µm"
    )
    COVERAGE = "film {film} %, print {print} %"
    LOST = "{count}, {lost} lost"
    LOST_SHARE = "{count}, {lost} lost ({percent} %)"
    FILLED = "{count}, {lost} filled"
    FILLED_SHARE = "{count}, {lost} filled ({percent} %)"
    BANDS_NOT_LOOKED_FOR = "not looked for: no screen was found on the film"
    NO_BANDS = "none that would show"
    BANDS_IN_PRINT = (
        "every {apart}, running at {direction} deg, {change} tone points up and down at {tone} %"
    )
    TONES_MEASURED = "tones, film to print, measured on this film: {tones}"
    TONES_OF_FLATS = "tones, film to print, of flats of {flats}: {tones}"
    TONE_TO = "{film} to {print}"
