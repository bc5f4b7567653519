"""What the help of each command says, and what click itself says of commands and options."""

from __future__ import annotations

from filmhand.language import Counted, Sentence


class HelpWord(Sentence):
    """The help of commands and options: paragraphs are parted by an empty line."""

    FILMHAND = "Make film positives for screen printing from pictures dropped in a folder."
    START_WITH = """\
Start with:
  filmhand new-profile                what your printer, sheet and mesh are
  filmhand check profiles             what each profile gives, and what its mesh holds
  filmhand make art.jpg --profile profiles/small-sheet.yaml
  filmhand serve station --profiles profiles
  filmhand guide                      the longer pages"""
    EXAMPLE = "Example:"
    SHOW_HELP = "Show this message and exit."
    SHOW_VERSION = "Show the version and exit."

    # Options of several commands.
    JSON = "Print JSON for programs."
    DPI_OF_FILM = "Its resolution, where the file says none; a drawing is drawn at it."
    STATE = "Local folder of ledger and log; may be deleted."
    PROFILES = (
        "Folder of profiles.  [default: STATION/profiles; questions about a station know the one "
        "that its service runs with]"
    )

    # Films without a station.
    MAKE = (
        "Make films of ART without a station.\n\n"
        "Reads a ticket (ART.ticket.yaml) and a mask (ART.clear.png) beside the art. Writes the "
        "film, its proof and its record to the folder; a refusal goes to standard error. What an "
        "earlier run wrote there is replaced, but no other file: where one has the name, the film "
        "gets -2. A profile with gang lays several ART on one sheet at once."
    )
    PROFILE_TO_MAKE = "The profile to make."
    FILMS_GO = "Where films go.  [default: this folder]"
    RULER = (
        "Make a film with long bars to measure with a steel rule.\n\n"
        "Writes ruler-PROFILE in the profile's formats, and says how to turn the two lengths into "
        "print.scale. It is made without the scale that the profile has."
    )
    CURVES = (
        "Show how a press drifts: every curve that was read of a profile's wedge.\n\n"
        "Tells of each, the oldest first, when it was read, what a film tone of 50 % prints, "
        "which dots held in micrometers, and whether films are made by it (tone.gain: measured)."
    )
    PLOT = (
        "Write all curves as one picture (PNG) there, the newest in blue; those of an ink beside "
        "it, as NAME-INK."
    )
    DEVICE_SHEET = (
        "Make a film that shows what the printer really resolves.\n\n"
        "Writes device-sheet-PROFILE in the profile's formats: lines, gaps, checkers and dots of "
        "whole pixels, a solid and a clear field; and says what to look for."
    )
    WEDGE = (
        "Make a film whose print shows what your press does.\n\n"
        "Writes wedge-PROFILE in the profile's formats: patches of its own screen from 0 to 100 %, "
        "dots, shadow dots, lines and gaps by size, solids, and a code that says what it is. "
        "Beside it wedge-PROFILE.json tells where everything is, and wedge-PROFILE.txt what to do. "
        "The profile's tone, limits and verdict are left out."
    )
    EXPOSURE_FILM = (
        "Make the film that finds the exposure instead: bands to be lit in steps, as "
        "exposure-PROFILE."
    )
    TIME_OF_LIGHT = "The time of light that step 4 gets, such as '60 s' or '3 min'."
    EXPOSURE = (
        "Tell which time of light follows from a screen that was exposed in steps.\n\n"
        "Of the film of filmhand wedge --exposure, give the first step that is hard all through "
        "and the last one in which fine things open, or a scan or photograph of a print pulled "
        "from that screen, with --profile; or of a 21-step gray scale the last step that stayed."
    )
    PROFILE_OF_EXPOSURE = "With a scan: the profile that the exposure film was made with."
    SOLID_STEP = "The first step whose stencil is hard all through; 0 for none."
    OPEN_STEP = "The last step whose fine dots, lines and gaps wash open; 0 for none."
    GRAY_STEP = "Of a 21-step gray scale, the last step that stayed on the screen."
    CALIBRATE = (
        "Read scans or photographs of a printed wedge.\n\n"
        "Tells what the press made of each tone, with its error, and the smallest dots and lines "
        "that held; with --of film what the printer made of the film itself. What is not to be "
        "trusted is refused with why."
    )
    PROFILE_OF_WEDGE = "The profile that the wedge was made for."
    OF_WHICH_INK = "The ink whose press it is, of a profile that names several."
    SCANNED = "What was scanned: the print pulled from the film, or the film.  [default: print]"
    CURVE_GOES = "Write the curve there, and its plot beside it (default curve-PROFILE.txt)."
    LIT_THROUGH = "The film was scanned by light that passes through it, so its density shows."
    PROFILE_OF_PRESS = "The profile whose films the press prints."
    PROFILE_OF_PRINTER = "The printer's profile."
    IT_GOES = "Where it goes.  [default: this folder]"

    # Profiles.
    CHECK = (
        "Read profiles; print the screen that each gives, and what its mesh holds.\n\n"
        "FILE may be a folder of profiles. Of one profile the main figures are told, of several a "
        "table."
    )
    ALL_OF_IT = "Tell of each profile all that is known."
    NEW_PROFILE = (
        "Write a first profile to FILE: for your printer, sheet, mesh and kind of work.\n\n"
        "Asks for what no option tells, if it is called on a terminal. What is left open is chosen "
        "so that printer and mesh hold it. A FILE that is there already is kept without --replace."
    )
    SHEET = "Sheet of film: letter, tabloid, a4, a3 or 13 x 19 in."
    DPI = "What the printer lays down, such as 600 or 600 x 1200."
    MARGIN = "White edge that the printer leaves, such as 0.25 in."
    MESH = "Mesh: 110, 43-80, or none."
    TREAT = "Kind of work: any (auto), photographs (tone) or drawings only (line)."
    LPI = "Ruling of the dots."
    ANGLE = "Angle of the dots."
    DOT = "Shape of the dots.  [default: round]"
    FRAME = "Inside of the screen's frame, such as 16 x 20 in."
    REPLACE = "Write over FILE if it is there."

    # Finished films.
    MEASURE = (
        "Read any 1-bit FILM and tell what is on it.\n\n"
        "With --scale all lengths are those on the acetate, as a printer of this print.scale makes "
        "it."
    )
    JUDGING_MESH = "Judge it against this mesh, such as 43-80 or 110."
    SCALE = "What 100 % across and down measure on it, such as 99.6,100.2."
    PREDICT = (
        "Show how any 1-bit FILM is expected to print.\n\n"
        "Writes a picture of the whole sheet, and tells lost dots, filled shadow dots, bands and "
        "the tones that film tones become. Give a mesh, or a profile that names one."
    )
    MESH_OF_PRINT = "The mesh, such as 43-80 or 110; else the profile's."
    PROFILE_OF_PRINT = "How light, ink and screen are."
    PICTURE_GOES = "Where the picture goes.  [default: FILM's name, .print.png]"

    # The service of a station.
    SERVE = (
        "Work through what waits in STATION, then watch it until stopped.\n\n"
        "SIGTERM finishes the job in hand and stops, a second one stops at once; SIGHUP reads the "
        "profiles again. The page can only be read, by everybody who reaches HOST:PORT: there is "
        "no password."
    )
    METRICS = "Text file with figures for a monitoring system."
    PAGE = "Serve the station's page there, such as 127.0.0.1:8080."
    PAGE_NAME = "Another name under which browsers ask for the page; may be given several times."
    ONCE = "Work through all that waits in STATION, then end."
    STATUS = (
        "Tell what waits in STATION, what was made and refused, and what is wrong.\n\n"
        "With PERSON only their art: that with the name in the first sub-folder of drop, or after "
        "`for` in its ticket."
    )
    DOCTOR = (
        "Try all that the service needs in STATION, and tell what is wrong and what to do.\n\n"
        "Makes, renames and removes files of its own in hidden folders, and leaves nothing behind. "
        "With --printers it lists the printers of the network instead, what each can do for film, "
        "and the lines that a profile needs for it."
    )
    INIT = "Prepare the folders that profiles name elsewhere."
    NOTIFY = "Send a trial message to whoever the profiles tell."
    PRINTERS = "Look for printers instead; needs no STATION."
    HISTORY = (
        "Tell what happened in STATION to files called NAME, oldest first.\n\n"
        "NAME is that of the art, with or without folder and suffix, that of a film, or a job."
    )
    EACH_FILM = "Tell each film of a set on a line of its own."
    RETRY = (
        "Put the refused file NAME in STATION back into its drop folder, to be tried again.\n\n"
        "NAME is as `status` shows it or as it lies in rejected/, with or without sub-folder, or a "
        "job. Where several files are called so, all are listed with their jobs. Ticket and mask "
        "go along; the note beside it is taken away."
    )
    HEALTH = (
        "Tell whether the service of STATION is alive: 0 if it is, 1 if it hangs or is not "
        "running.\n\n"
        "For containers and monitors. A full disk or a missing share is no illness of the service; "
        "`status` tells those."
    )
    LOG = (
        "Tell what the service of STATION said last, in sentences, oldest first.\n\n"
        "A ! stands before what somebody should look at. The log itself is kept as JSON, a line an "
        "event."
    )
    LINES = "How many of the last lines."

    # Films that wait, and sheets.
    RELEASE = (
        "Let the held film NAME of STATION go on, also beyond its budget.\n\n"
        "NAME is the film's or its art's, with its sub-folder and profile where several are called "
        "so. It is the same as moving its proof from held/ to release/."
    )
    DISCARD = (
        "Give the held film NAME of STATION up; its art goes to rejected/, with a note.\n\n"
        "NAME is as for `filmhand release`."
    )
    USAGE = (
        "Print which sheets were used in STATION: date, person, profile, film, sheets, as CSV.\n\n"
        "A film counts when it goes on to positives/, where its profile prints, asks for approval "
        "or has a budget."
    )
    SINCE = "Only from this day on, as 2026-03-01."

    # Films that go to a printer.
    CANCEL = (
        "Print the film NAME of STATION no further, whether it waits or is at the printer.\n\n"
        "NAME is the film's, with its sub-folder and its profile where several are called so. A "
        "film of which nobody knows whether it was printed is given up. The film stays in "
        "positives/."
    )
    REPRINT = (
        "Send the very bits of the film NAME of STATION to its printer again.\n\n"
        "The film must lie in positives/ as it was made."
    )
    PAUSE = "Send no more films of PROFILE in STATION to its printer; films are made as before."
    RESUME = "Let the films of PROFILE in STATION go on to its printer."

    # The guide.
    GUIDE = (
        "Show the longer pages: all their names, one PAGE, or where a WORD stands in them.\n\n"
        "The pages are in English."
    )


class ClickWord(Sentence):
    """What click says: it looks these up itself, as Python's gettext does, in our catalogs."""

    USAGE = "Usage:"
    OPTIONS = "Options"
    COMMANDS = "Commands"
    ARGUMENTS = "Positional arguments"
    DEFAULT = "default: {default}"
    REQUIRED = "required"
    TRY_HELP = "Try '{command} {option}' for help."
    ERROR = "Error: {message}"
    ABORTED = "Aborted!"
    NO_COMMAND = "Missing command."
    UNKNOWN_COMMAND = "No such command {name!r}."
    UNKNOWN_OPTION = "No such option {name!r}."
    NO_ARGUMENT = "Missing argument"
    NO_OPTION = "Missing option"
    TAKES_NO_VALUE = "Option {name!r} does not take a value."
    INVALID = "Invalid value: {message}"
    INVALID_FOR = "Invalid value for {param_hint}: {message}"
    INVALID_NUMBER = "{value!r} is not a valid {number_type}."
    OUT_OF_RANGE = "{value} is not in the range {range}."
    CHOOSE = "Choose from:\n\t{choices}"


class ClickCount(Counted):
    """The same where it counts."""

    UNEXPECTED = (
        "Got unexpected extra argument ({args})",
        "Got unexpected extra arguments ({args})",
    )
    NEEDS_VALUES = (
        "Option {name!r} requires an argument.",
        "Option {name!r} requires {nargs} arguments.",
    )
    MEANT = ("Did you mean {possibility}?", "(Did you mean one of: {possibilities}?)")
    NO_CHOICE = ("{value!r} is not {choice}.", "{value!r} is not one of {choices}.")
