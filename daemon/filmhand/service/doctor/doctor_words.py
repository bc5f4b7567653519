"""What `filmhand doctor` says, one row a sentence."""

from __future__ import annotations

from filmhand.language import Counted, Sentence


class Level(Sentence):
    """How a finding is meant."""

    OK = "ok"
    NOTE = "note"
    WRONG = "wrong"


class Examined(Sentence):
    """Where something was looked at, unless in a profile, which goes by its name."""

    COMPUTER = "this computer"
    STATE = "state folder"
    STATION = "station"
    PROFILES = "profiles"


class Topic(Sentence):
    """What was looked at."""

    VERSIONS = "versions"
    CORES_AND_MEMORY = "cores and memory"
    LOOPS = "inner loops"
    KINDS_OF_ART = "kinds of art"
    SANDBOX = "sandbox"
    OPEN_FILES = "open files"
    WATCHES = "watches"
    SERVICE = "service"
    LOCAL_DISK = "local disk"
    RIGHTS = "rights"
    SPACE = "space"
    MARK = "mark"
    FOLDER = "folder"
    ART_FOR_NOBODY = "art for nobody"
    PROFILE = "profile"
    FOLDERS = "folders"
    MARKER = "marker"
    PREPARED = "prepared"
    FILES = "files"
    FSYNC = "fsync"
    RENAME = "rename"
    NAMES = "names"
    LINKS = "links"
    WRITERS = "writers"
    EVENTS = "events"
    ONE_FILE_SYSTEM = "one file system"
    PRIVATE_FOLDER = "private folder"
    SET_ASIDE = "set aside"
    OTHER_HOST = "other host"
    JOB = "job"
    LEFT_IN_DROP = "left in drop"
    LEFT_OVER = "left over"
    CLUSTER = "cluster"
    CLUSTER_WORKER = "cluster worker"
    MESSAGES = "messages"
    POSITIVES = "positives"
    PRINTER = "printer"
    READINGS = "readings"


class DoctorWord(Sentence):
    """What was found, and what to do about it."""

    FINDING = "{where}, {what}: {say}"
    # This computer
    VERSIONS = "{versions}."
    CORES = "{cores} cores can be used; the computer has {memory} GiB of memory."
    LOOPS_COMPILED = "The inner loops run compiled."
    LOOPS_SWITCHED_OFF = (
        "The inner loops run in NumPy, as {variable} asks; films are the same, but take longer."
    )
    SWITCH_LOOPS_ON = "Take {variable} out of the service's environment where time counts."
    LOOPS_NOT_COMPILED = (
        "The inner loops run in NumPy, as they were not compiled when filmhand was installed; films"
        " are the same, but take longer."
    )
    COMPILE_LOOPS = (
        "Install a C compiler and Python's headers (Debian, Ubuntu: gcc and python3-dev), then"
        " install filmhand again."
    )
    OPEN_FILES = "{files} files may be open at once."
    ALLOW_MORE_FILES = "Allow 1024 (ulimit -n 1024)."
    WATCHES = "{watches} folders may be watched at once."
    # Kinds of art
    ALL_READ = (
        "JPEG, PNG, TIFF, WebP, GIF, BMP and the like are read, and with the addition {opened}."
    )
    SOME_READ = (
        "JPEG, PNG, TIFF, WebP, GIF, BMP and the like are read, and with the addition {opened}; "
        "not {closed}."
    )
    NONE_ADDED = "JPEG, PNG, TIFF, WebP, GIF, BMP and the like are read; not {closed}."
    EXTRA_ADDS = "{extra} adds them."
    # The process of a job; {by} is empty or says in brackets by what it is shut in
    REACH_NOT_TRIED = "It could not be tried what a job's process can reach: {kind}."
    TRY_REACH_AGAIN = (
        "Start doctor as the user and where the service runs, and look whether films are made."
    )
    REACHES_NOTHING = "What reads a picture reaches its own folders only, not {kept}{by}."
    REACHES_SOME = "What reads a picture could reach {reached} here, though not {kept}{by}."
    REACHES_ALL = "What reads a picture could reach {reached} here{by}."
    LANDLOCK = "Landlock {version}"
    CALL_FILTER = "a filter for system calls"
    OTHER_FILES = "other files"
    NETWORK = "the network"
    OTHER_PROCESSES = "other processes"
    SHUT_IN = (
        "Linux 5.13 or newer with landlock among its security modules keeps pictures from other "
        "files (6.12 also from other processes); a container's own filter may stand in the way. "
        "Until then let the user that runs filmhand own nothing but its folders."
    )
    # The state folder
    SERVICE_RUNS = "The service of this station runs."
    SERVICE_DOES_NOT_RUN = "The service of this station does not run."
    STATE_ON_SHARE = "{folder} lies on a share, where the ledger's locks are not reliable."
    STATE_ELSEWHERE = "Name a folder on a local disk with --state."
    STATE_IS_LOCAL = "{folder} is on this computer."
    NOT_WRITABLE = "Nothing can be written in {folder}: {why}."
    ALLOW_WRITING_OR_STATE = (
        "Give the user that runs filmhand the right to write there, or name another --state."
    )
    MAKE_ROOM = "Make room before the disk is full."
    # The station
    NOT_MARKED = "{station} could not be marked: {why}."
    CONNECT = "Connect the disk or share."
    MARKED_ANEW = "{station} carries a new mark; it is the station from now on."
    ANOTHER_STATION = (
        "{station} lacks the mark that was left in it: it is another folder, or not there."
    )
    CONNECT_STATION = (
        "Connect its disk or share, or give it its old name back; if this is how it shall be: "
        "filmhand doctor STATION --init"
    )
    STATION_IS_NEW = "{station} is not there yet; the service makes it when it starts."
    CHECK_PATH = "Check the path if you expected it there."
    STATION_IS_EMPTY = "{station} is empty and carries no mark of filmhand."
    NOT_CONNECTED = "If a disk or share belongs there, it is not connected."
    # Profiles
    CORRECT_PROFILE = "Correct the file; the service reads it again by itself."
    PROFILES_RIGHT = "Right: {profiles}."
    GOES_IN_AGAIN = "{kind} lies inside the drop folder of {other}: what comes out goes in again."
    FOLDER_OUTSIDE = "Give {name} a `folder` outside {drop} in its profile."
    # A profile's folder
    FOLDER_NOT_READY = "{folder} is not there or is not prepared."
    CONNECT_OR_INIT = "Connect the disk or share; if it is new: filmhand doctor STATION --init"
    CARRIES_MARK = "{folder} carries filmhand's mark."
    FOLDER_IS_NEW = "{folder} is new; the service makes it when it starts."
    ALLOW_WRITING = "Give the user that runs filmhand the right to write there."
    NOT_PREPARED = "{folder} could not be prepared: {why}."
    NOTHING_ABOVE = "the folder above it is not there"
    CONNECT_AND_REPEAT = "Connect the disk or share, then again."
    NOW_PREPARED = "{folder} is prepared and carries the mark now."
    # What lies about
    JOB_IS_STUCK = "{name} has not moved on for {ago} ({state})."
    SEE_STATUS = "See `filmhand status` and the log."
    START_SERVICE = "Start the service; it goes on."
    UNFINISHED = "Unfinished for more than a day: {names}."
    DROP_AGAIN = "Somebody may wait for it: drop the file again under its own name, or remove it."
    NOTHING_LEFT = "Nothing is stuck and nothing forgotten."
    TAKEN_OVER = "Its jobs are taken over by a running service after the profile's `takeover` time."
    # What the file system can do
    FAILED = "It failed: {why}."
    CAME_BACK_DIFFERENT = "What was written came back different."
    CHECK_DISK = "Check the disk or share before using it."
    FILES_CAN_BE_MADE = "Files can be made, and their time is right."
    CLOCK_AHEAD = "The file system's clock is {seconds} s ahead of this computer's."
    CLOCK_BEHIND = "The file system's clock is {seconds} s behind this computer's."
    FOLLOW_TIME_SERVER = (
        "Let both follow a time server. Filmhand itself compares no file time with its own clock."
    )
    FILE_NOT_SYNCED = "The file system cannot say that a file reached the disk: {why}."
    NAMES_NOT_SYNCED = "The file system cannot say that a folder's names reached the disk: {why}."
    POWER_FAILURE = (
        "A power failure may cost the last moments of work here; a local disk would not."
    )
    SYNCED = "Files and names reach the disk when asked to."
    CAN_RENAME = "Files can be renamed."
    NEVER_REPLACES = "A name that is taken is never taken again."
    REPLACES = "The file system says that it renames without replacing, and replaced a file."
    NO_SUCH_SHARE = "Do not use this share: files with the same name could be lost on it."
    KEPT_APART_BY_LINK = "Names are kept apart by a second name (link)."
    NEVER_SAFE = "The file system knows neither renaming without replacing nor links."
    NO_OTHER_PROGRAM = "Let no other program write into positives, proofs and records here."
    LINKS = "Hard links can be made."
    NO_LINKS = "Hard links cannot be made; filmhand does without."
    FAR_WRITERS_UNSEEN = (
        "Who writes a file on another computer cannot be seen here; art rests longer for it."
    )
    WRITERS_UNSEEN = (
        "The system cannot tell whether somebody still writes a file; all art rests {times} times "
        "the settle time."
    )
    WRITERS_SEEN = "The system tells whether a file is still written, whoever owns it."
    OWN_WRITERS_SEEN = (
        "The system tells the user that runs this (number {user}) of own files only whether they "
        "are still written; art that others own rests {times} times the settle time."
    )
    GIVE_LEASE = "Give the service the power CAP_LEASE, as filmhand's unit does."
    RAISE_SETTLE = "Raise `settle` in the profile if copies arrive with long pauses."
    SHARE_WITHOUT_EVENTS = "This is a share: what other computers do here causes no events."
    LOOKS_AT_SHARES = "Nothing; filmhand looks every 10 s by itself."
    EVENTS_ARRIVE = "Events arrive."
    NO_EVENT = "No event arrived when a file was written."
    LOOKS_OFTEN = (
        "Nothing; filmhand looks twice a second by itself. If the limit on watches is reached, "
        "raise fs.inotify.max_user_watches."
    )
    ONE_FILE_SYSTEM = "All folders lie on one file system."
    SEVERAL_FILE_SYSTEMS = (
        "Files cannot be renamed from .filmhand to {folders}: not one file system."
    )
    SAME_DISK = "Put all folders of {name} on the same disk or share."
    CANNOT_WRITE = "Filmhand cannot write in {folder}: {why}."
    ALLOW_READING_AND_WRITING = (
        "Give the user that runs filmhand (number {user}) the right to read and write there."
    )
    ALL_WRITABLE = "All folders can be read and written."
    NOT_THERE = "it is not there"
    NO_FOLDER = "a link or a file is in its place"
    NO_RIGHTS = "the rights are missing"
    # The private folder
    OWNER_ONLY = "Only {owner}, whose it is, may write in .filmhand."
    OTHERS_TOO = (
        "Besides {owner}, whose .filmhand is, these may write there or exchange it: {others}."
    )
    TAKE_RIGHTS_AWAY = (
        "All that lies there is checked before it is used; to keep it in order, take away their "
        "right to write (chmod go-w), but for other hosts that work on the folder as others."
    )
    USER = "the user {name}"
    GROUP_IN = "the group {name} in {folder}"
    EVERYBODY_IN = "everybody in {folder}"
    # A cluster
    CLUSTER_NOT_ASKED = "{address} is not asked before the folder is there."
    PREPARE_FIRST = "Start the service once, or prepare the folder with --init; then doctor again."
    CORRECT_WORKERS = "Start it or correct `workers` in the profile; until then its art waits."
    WORKER_SILENT = "A worker of {address} has not answered for {seconds} s."
    WORKER_WITHOUT = "The worker at {place} cannot load filmhand ({why})."
    INSTALL_FOR_WORKER = "Install filmhand {version} for the Python that runs it ({extra})."
    WORKER_DIFFERS = "The worker at {place} on {host} has filmhand {version}; here is {own}."
    SAME_VERSION = "Install the same version on all."
    WORKER_LACKS = "The worker at {place} on {host} lacks {libraries}, which is installed here."
    INSTALL_THERE = "Install it there ({extra})."
    WORKER_BLIND = "The worker at {place} on {host} does not see this profile's folder."
    SAME_PATH = "Let the folder lie on a share that all have under the same path."
    WORKER_MAY_NOT_WRITE = (
        "The worker at {place} on {host} has no right to write in this profile's folder."
    )
    ALLOW_WORKER = "Give the user that runs it the right to read and write there."
    WORKER_FINE = (
        "The worker at {place} on {host} has filmhand {version} and Python {python}, sees the "
        "folder and may write there."
    )
    # Messages to people
    TOLD_ARE = "Messages go to: {targets}."
    SEND_TRIAL = "Send a trial: filmhand doctor STATION --notify"
    SECRET_TROUBLE = "For messages, {trouble}."
    NO_LIBRARY = (
        "The profile tells services, and the library that speaks with them is not installed."
    )
    INSTALL_LIBRARY = "Install it: pip install 'filmhand[notify]'"
    TRIAL_FAILED = "A trial message did not go out to {target}: {trouble}."
    TRIAL_SENT = "A trial message went out to {target}."
    # Readings of the wedge
    READING_HOLDS = "Films go by what was read of the press: {names}."
    READING_IS_OLD = "The press curve {name} was read on {date}, more than a year ago."
    READ_A_WEDGE = (
        "Print the film that filmhand wedge makes, and put a scan of the print into calibrate/ "
        "(page wedge of the guide)."
    )
    INKS_NOT_READ = (
        "Other inks of it were read, but these not yet, so that their films are made for a press "
        "that adds nothing: {inks}."
    )
    READ_WEDGES_OF_INKS = (
        "Print the film that filmhand wedge --ink makes for each, and put a scan of the print into "
        "the ink's folder in calibrate/ (page wedge of the guide)."
    )
    SPOILED_CURVE = "Put it right, or take it out of curves/."
    NO_SUCH_INK = "Readings lie in {folder}, and the profile names no such ink."
    NAME_FOLDER_AFTER_INK = (
        "No film goes by them: name the folder after an ink of the profile ({inks}), or take it "
        "away."
    )
    # Printing
    PRINTS_ITSELF = "This profile's films go to its printer by themselves."
    WATCH_NO_POSITIVES = "Let nothing else watch positives/, or each film is printed twice."
    PRINTER_FINE = "{printer} would print its films: {how}."
    PRINTER_SAYS = "{printer} says: {why}."
    RASTER_OF_ONE_BIT = "PWG Raster of one bit"
    TRAY = "tray {tray}"
    NAME_PRINTER = (
        "Add it to the profile, as in print: {{printer: 'ipp://film-printer.local/ipp/print'}}; "
        "`filmhand cancel` then lets go of those that nobody wants."
    )


class DoctorCount(Counted):
    """What doctor counts."""

    DAYS = ("{n} day", "{n} days")
    HOURS = ("{n} hour", "{n} hours")
    MINUTES = ("{n} minute", "{n} minutes")
    SECONDS = ("{n} second", "{n} seconds")
    HOST_NEVER_HEARD = (
        "{host} has never given a sign of life and has {n} job in hand here.",
        "{host} has never given a sign of life and has {n} jobs in hand here.",
    )
    HOST_HEARD = (
        "{host} gave its last sign of life {ago} ago and has {n} job in hand here.",
        "{host} gave its last sign of life {ago} ago and has {n} jobs in hand here.",
    )
    CLUSTER_ANSWERS = (
        "{address} answers and has {n} worker.",
        "{address} answers and has {n} workers.",
    )
    FILMS_WITHOUT_PRINTER = (
        "{n} film waits to be printed, and the profile names no printer any more.",
        "{n} films wait to be printed, and the profile names no printer any more.",
    )
