"""What the commands say while they work: what was asked wrongly, what was done, what to do next."""

from __future__ import annotations

from filmhand.errors import Reason, RefusalSentence
from filmhand.language import Counted, Sentence


class CommandWord(Sentence):
    """The sentences of the commands, reports of figures apart."""

    BEGIN = """\
filmhand makes film positives for screen printing from pictures in a folder.

Where to begin:
  filmhand new-profile shirts.yaml             your printer, sheet and mesh
  filmhand make art.jpg --profile shirts.yaml  one film: look at its proof
  filmhand serve films --profiles FOLDER       a folder that does it by itself

  filmhand guide start      the first film, in ten minutes
  filmhand guide stencil    from the installation to the first stencil
  filmhand guide WORD       where a word stands in the guide
  filmhand --help           every command"""
    VERSION = "filmhand, version {version}"

    # What was asked wrongly, and what failed.
    RENAMED = "{old} is now {new}."
    MUST_BE = "must be {allowed}, not '{given}'"
    PAGE_MUST_BE = "--page must be {allowed}, not '{given}'."
    DAY_MUST_BE = "must be a day as 2026-03-01, not '{given}'"
    NO_STATION = "Missing argument 'STATION'; only --printers goes without one."
    NAME_THE_PROFILE = (
        "A film is made for a profile, which says printer, sheet and mesh. Name it: {line} "
        "--profile shirts.yaml. Is there none? filmhand new-profile shirts.yaml writes it."
    )
    KEY_OF_PROFILE = (
        "{option} is no option here: {key} stands in the profile, and for one art in its ticket "
        "(filmhand guide tickets tells which keys may)."
    )
    NAME_THE_MESH = "Name the mesh: --mesh 43-80, or --profile with a profile that has one."
    WOULD_REPLACE_FILM = "The picture would replace the film {film}; give another name with --out."
    NOT_THERE = "{path} is not there: check how it is written."
    NO_RIGHTS = "You may not read or write {path}: check your rights to it."
    CHECK_THE_PATH = "{path}: {error}. Check the path and your rights to it."
    THIS_COMMAND = "this command"
    DETAILS = "The details: {details}"
    DETAILS_ARE_IN = "The details are in {log}."
    NO_RESOLUTION = (
        "{name} does not say its resolution, so it is not as it was made: drop its art again."
    )

    # What is worked on.
    READING_PROFILES = "reading profiles: {number} of {total} ..."
    MAKING_FILMS = "making films: {number} of {total} ..."

    # Art that gets no film.
    NO_FILM = "{name}: {say} {do}"
    NO_FILM_FOUND = "{name}: {say} (found {found}) {do}"
    NO_FILM_NEEDED = "{name}: {say} (needed {needed}) {do}"
    NO_FILM_MEASURED = "{name}: {say} (found {found}, needed {needed}) {do}"

    # A first profile.
    PRESS_ENTER = "A profile says what your films are for. Press Enter to take what is in brackets."
    ASK_SHEET = "Sheet of film (letter, tabloid, a4, a3, or 13 x 19 in)"
    ASK_DPI = "Dots to the inch that the printer really lays down (in doubt the lower number)"
    ASK_MARGIN = "White edge that the printer leaves on a full page"
    ASK_MESH = "Mesh on the screen: threads to the inch (110), or as the roll says (43-80), or none"
    ASK_WORK = "What will you print? {photographs}, {drawings} and lettering, or {both}"
    ASK_LPI = (
        "Lines of dots to the inch (fewer forgive more; in brackets is a usual number that your "
        "printer and mesh hold)"
    )
    PHOTOGRAPHS = "photographs"
    DRAWINGS = "drawings"
    BOTH = "both"
    NO_WORK = "'{given}' is none of {photographs}, {drawings} and {both}."
    UNIT_MISSING = "'{given}' has no unit: write {ways}."
    CANNOT_BE_READ = "'{given}' cannot be read; it must be {allowed}."
    DO_NOT_GO_TOGETHER = "These do not go together: {faults}."
    NOBODY_TO_ASK = "Nobody can be asked here, so say {options} too, such as: {line}"
    MUST_END_IN_YAML = "{file} must end in .yaml; name it {better}."
    IS_THERE = "{file} is there already and stays as it is; choose another name, or say --replace."
    WROTE = "Wrote {file}."
    MESH_IS_CALLED = "Mesh {given} is called {label} here, on films too; it is the same mesh."
    FIRST_FILM = "A first film:  filmhand make ART --profile {file}"
    NO_PROFILE_IN = (
        "There is no profile in the folder {folder}: profiles end in {endings}. "
        "filmhand new-profile writes one."
    )

    # Films to measure a printer or a press by.
    TIME_NEEDS_EXPOSURE = "--time is the time of a film with --exposure, so give both."
    EXPOSURE_NEEDS = (
        "Give --time, and with it --solid and --open, or --gray-step, or a scan and --profile, "
        "such as filmhand exposure --time '60 s' --solid 3 --open 5."
    )
    EXPOSURE_HEAD = """\
Smallest size that held, in µm:
step                dots    shadow     lines      gaps"""
    EXPOSURE_CAUTION = (
        "Never look into the lamp. The data sheets of emulsion and lamp, and people who are "
        "trained for them, come before this."
    )
    WEDGE = "What to do with it stands in {page}; the cautions of exposing and printing do too."
    RULER = """\
Print it at 100 %, not fitted to the page, on the film you use. Let it cool and lie flat. Then:
  across   from the left edge of line 0 to the left edge of line {across} on the upper bar
           scale across = measured mm x 100 / {across}
  down     from the upper edge of line 0 to the upper edge of line {down} on the left bar
           scale down = measured mm x 100 / {down}
and write both into the profile, across first, such as
  print: {{scale: [99.6 %, 100.2 %]}}

A steel rule reads a quarter of a millimeter: {reads_across} % across and {reads_down} % down.
Where both come out within that of 100 %, leave the scale at 100 %."""
    SCALE_LEFT_OUT = (
        "The profile's scale of {across} x {down} % was left out of this film, so what you measure "
        "is the whole scale: write it in place of that one."
    )
    LOOK_WITH_A_LOUPE = "Print it at 100 % on the film you use. What to look for, with a loupe:"

    # A station.
    NOBODYS_ART = "Nothing here is art of {person}, nor of anybody by name."
    NOBODYS_ART_BUT = "Nothing here is art of {person}. Those whose art is here: {people}."
    RUNNING = "running"
    COUNTS = "{waiting} waiting, {working} working, {made} made, {refused} refused"
    MADE_AS = "{profile}: {name} as {films}"
    READ = "{profile}: {name}, read"
    HELD = "{film}: {why} Until: {until}."
    HELD_FOR = "{film} for {person}: {why} Until: {until}."
    AT_PRINTER = "{profile}: {film}, the printer's job {job}"
    NONE_ANNOUNCED = (
        "No printer has announced itself on this network. If yours is on, write its address in the "
        "profile, such as print: {{printer: ipp://192.168.1.20/ipp/print}}."
    )
    NAME_FOR_PROFILE = "{name} for {profile}"
    JOB_AT = "job {job}, {at}"
    GONE = "{file} (no longer in positives)"
    NOTHING_KNOWN = (
        "Nothing is known of '{name}' at this station; filmhand status tells the latest names."
    )
    HEALTHY = "healthy"
    NOTHING_SAID = "No service has said anything here yet: filmhand serve starts one."

    # The guide.
    INDEX = "What stands where: every section of every page"
    SHOW_OR_LOOK_UP = "Show one with: filmhand guide NAME. Look a word up with: filmhand guide WORD"
    SHOW_A_PAGE = "Show a page with: filmhand guide NAME"
    STANDS_NOWHERE = (
        "“{words}” stands nowhere in the guide. Try one word of it. filmhand guide lists the "
        "pages, filmhand guide glossary the words."
    )
    STANDS_NOWHERE_BUT = (
        "“{words}” stands nowhere in the guide. Words like it that do: {near}. filmhand guide "
        "lists the pages, filmhand guide glossary the words."
    )
    ON_PAGE = "{word}: {meaning} (page {page})"
    PICTURE = "Picture: {picture}"


class CommandCount(Counted):
    """What the commands count."""

    MORE = ("and {n} more", "and {n} more")
    FILMS_OF_SET = ("{film_set}: {n} film: {inks}", "{film_set}: {n} films: {inks}")
    WAIT_FOR_PRINTER = ("{n} waiting, for {profiles}", "{n} waiting, for {profiles}")
    NOT_COUNTED = (
        "Not counted: the films of {profiles}, since the profile has neither print, approve nor "
        "budget.",
        "Not counted: the films of {profiles}, since the profiles have neither print, approve nor "
        "budget.",
    )
    MORE_PLACES = ("and {n} place more", "and {n} places more")


class MakeRefusal(RefusalSentence):
    """Art and films that commands without a station cannot read."""

    NO_FILE = (
        Reason.NOT_ART,
        "{path} is not there or is not a file.",
        "Give the path of an image file.",
    )
    STOPS_THE_READER = (
        Reason.CRASHED,
        "This file stopped the program that reads it: {how}.",
        "Open it in the program it came from and save it again as PNG or TIFF.",
    )
    NO_DPI = (
        Reason.NOT_ART,
        "{name} does not say how many device pixels it has to the inch.",
        "Give it with --dpi, such as --dpi 600.",
    )
