"""What the status page, the proof and the notes say, one row a sentence."""

from __future__ import annotations

from filmhand.language import Counted, Sentence


class PageWord(Sentence):
    """The sentences and captions of the status page."""

    TITLE = "{todo} to do, {made} made, {refused} refused - {station}"
    AT_WORK = "at work"
    NOT_RUNNING = "not running"
    AS_OF = "as of"
    HOLD = "Hold still"
    FOLLOW = "Follow again"
    STALE = (
        "Nothing has been written here for half a minute: filmhand was stopped or hangs, its disk "
        "is full, or the share is gone. If the time above is right, this computer's clock is not."
    )
    MADE = "made"
    MADE_WARNED = "made, with a warning"
    WAS_READ = "read"
    WARNED = "with a warning"
    REFUSED = "refused"
    HELD = "held"
    SEARCH = "Search names, people, words"
    PROFILE = "Profile:"
    ALL_PROFILES = "all"
    SHOW = "Show:"
    ALL = "everything"
    NONE_FOUND = "Nothing here matches what you chose above."
    TO_LOOK_AT = "To look at"
    NOTHING_TO_LOOK_AT = "Nothing was refused and nothing is held."
    LATEST = "What happened, newest first"
    NOTHING_YET = "Nothing yet. Drop art into a profile's folder named drop."
    PROFILES = "The profiles"
    FILM = "film"
    PROOF = "proof"
    PROOF_OF = "Proof of {name}"
    PROOF_OF_SET = "proof of the set"
    RECORD = "record"
    ORIGINAL = "original"
    NOTE = "note"
    FOUND = "Found: {found}."
    NEEDED = "Needed: {needed}."
    AFTER_ALL = "A film of it was made after all."
    TRIED_AGAIN = "A file of this name has come again and is on its way."
    AWAY = "Put away"
    BACK = "Put back"
    HELD_UNTIL = "Held: {why}"
    UNTIL = "Until: {until}."
    WORKING_STATE = "working"
    PAUSED_STATE = "paused"
    UNREACHABLE_STATE = "not reachable"
    NOT_RUNNING_STATE = "not running"
    IN_WORK_NOW = "In work"
    READING = "reading the art"
    SCREENING = "laying down dots"
    MEASURING = "measuring what the mesh holds"
    WRITING = "writing and reading back"
    WAITS_IN_ORDER = "Waiting, in order"
    NOTHING_WAITS = "Nothing waits."
    FOR_SECONDS = "for {seconds} s"
    USUALLY = "films here take about {seconds} s"
    WAITS_ABOUT = "{why}, in about {time}"
    SECONDS = "{n} s"
    MINUTES = "{n} min"
    HOURS = "{n} h"
    HOSTS = "Also at work in this folder"
    HOST_HEARD = "{host}, heard from {seconds} s ago, {jobs} in hand"
    LEFT_ALONE = "Left alone"
    CURVE = "press curve {name}: 50 % on the film prints {print} %"
    CURVE_READ = "press curve read on {date}: 50 % on the film prints {print} %"
    CURVE_HOLDS = "dots hold from {dot} µm"
    CURVE_PLOT = "plot"
    CURVES_OF_INKS = "Press curves of single inks"
    INK_PLOT = "plot of {ink}"
    NO_CURVE_OF_INKS = (
        "No press curve was read of these inks yet: {inks}. Their films are made for a press that "
        "adds nothing until a scan of a print of each one's wedge lies in calibrate/, in the "
        "folder of that ink."
    )
    NO_CURVE_YET = (
        "No press curve was read yet (tone.gain: measured): films are made for a press that adds "
        "nothing until a scan of a printed wedge lies in calibrate/."
    )
    DROP_HERE = "drop folder"
    PRINTER = "Printer"
    PRINTERS = "Printers"
    AT_PRINTER = "At the printer"
    PRINTING_PAUSED = "paused; filmhand resume lets its films go on"
    INK_COLOR = "color of the ink, {color}"


class PageCount(Counted):
    """What the status page counts; ``{number}`` is how many, as markup."""

    WAITING = ("{number} waiting", "{number} waiting")
    IN_WORK = ("{number} in work", "{number} in work")
    MADE = ("{number} made", "{number} made")
    REFUSED = ("{number} refused", "{number} refused")
    HELD = ("{number} held", "{number} held")
    OLDER = ("{n} older entry", "{n} older entries")
    FILMS_OF_SET = ("a set of {n} film", "a set of {n} films")
    FILMS_TO_PRINT = ("{n} film waits for it", "{n} films wait for it")
    MORE_WAIT = ("and {n} more", "and {n} more")
    NOT_SHOWN = (
        "{n} more is not shown here; filmhand history tells of it.",
        "{n} more are not shown here; filmhand history tells of them.",
    )


class ProofCaption(Sentence):
    """What stands about the pictures of a proof."""

    UP = "up"
    PIECE_OF_FILM = "{size} of the film, enlarged"
    PIECE_OF_PRINT = "{size} of the expected print, enlarged"
    WEAKEST_PLACE = "At the weakest place."
    BUSIEST_PLACE = "At the busiest place."
    NOTHING_LOST = "No dot is lost here, and no shadow dot fills."
    LOST = "lost dots: {count}"
    FILLED = "filled shadow dots: {count}"
    SPOTTED_OUT = "spotted out"
    WEAKEST_PLACES = "weakest places"
    ISLANDS_CLEARED = "small islands, cleared"
    BACKGROUND_CLEARED = "background, cleared"
    NOT_ON_FILM = "of the art, but not on the film"
    ALL_INKS = "The expected print, all inks over each other."
    FILM_OF_INK = "{k} of {of}: {ink}"


class NoteWord(Sentence):
    """The notes beside refused art and beside the proofs of held films."""

    NO_FILM = "No film was made from this file:"
    NO_FILM_FOR = "No film was made for {profile} from this file:"
    NO_READING = "No curve was read from this file:"
    NO_READING_FOR = "No curve was read for {profile} from this file:"
    FOUND = "Found:"
    NEEDED = "Needed:"
    TO_DO = "What you can do:"
    LIES_HERE = "The file lies beside this note, unchanged. To try again, put it back into drop."
    SCAN_LIES_HERE = (
        "The file lies beside this note, unchanged. To try again, put it back into calibrate."
    )
    HELD = "This film is finished, and held:"
    FILM_OF = "{film}, of {name}"
    FILM_OF_FOR = "{film}, of {name} (for {person})"
    JOB = "job {job}"
    GOES_ON = "How it goes on:"
    BY_ITSELF = "By itself on {until}, oldest films first."
    MOVE_PROOF = "Move {proof} into release/, or run"
    MOVE_ANY_PROOF = (
        "Move {proof} into release/ (any one of its {n} proofs lets all its films go), or run"
    )
    GIVE_UP = "How it is given up, so that its art goes to rejected/:"
    WARNS_OF = "What its checks warn of:"


class PlotWord(Sentence):
    """What stands below a plot of press curves."""

    AXES = "across: film tone, %; up: print tone, %"
    COLORS = "blue: the newest curve; orange: what was read; gray: older ones, and film = print"


class NoteCount(Counted):
    """What the notes count."""

    SET_OF = (
        "{n} film that is printed, released and given up as one set: {inks}",
        "{n} films that are printed, released and given up as one set: {inks}",
    )


class QuantityWord(Counted):
    """What was found and needed, with its unit."""

    MICROMETERS = ("{value} micrometer", "{value} micrometers")
    MILLIMETERS = ("{value} mm", "{value} mm")
    PIXELS_PER_INCH = ("{value} pixel per inch", "{value} pixels per inch")
    LINES_PER_INCH = ("{value} line per inch", "{value} lines per inch")
    OF_INK = ("{value} % ink", "{value} % ink")
    OF_OVERLAP = ("{value} mm of overlap", "{value} mm of overlap")
    PIXELS = ("{value} pixel", "{value} pixels")
    PIXELS_A_DOT = ("{value} pixel a dot", "{value} pixels a dot")
    MEGAPIXELS = ("{value} megapixel", "{value} megapixels")
    BYTES = ("{value} byte", "{value} bytes")
    MEGABYTES = ("{value} megabyte", "{value} megabytes")
    OF_MEMORY = ("{value} GiB of memory", "{value} GiB of memory")
    OF_ONE_FILE = ("{value} GiB in one file", "{value} GiB in one file")
    SECONDS = ("{value} second", "{value} seconds")
    FILMS = ("{value} film", "{value} films")
    COPIES = ("{value} copy", "{value} copies")
    PAGES = ("{value} page", "{value} pages")
    PATCH = ("patch {value}", "patch {value}")
    PATCHES = ("{value} patch", "{value} patches")
    PROPORTIONS = ("{value} width / height", "{value} width / height")
    FAILED_TRIES = ("{value} failed try", "{value} failed tries")
    ELEMENTS = ("{value} element", "{value} elements")
