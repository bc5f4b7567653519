"""What the service says and what is answered to people who ask it, one row a sentence."""

from __future__ import annotations

from filmhand.language import Counted, Sentence


class ServiceWord(Sentence):
    """The sentences on a station, its profiles, its service and its page."""

    # How it starts and ends
    NO_HOME = (
        "This user has no home folder, so filmhand does not know where its state folder is. "
        "Name one with --state, on a local disk."
    )
    STATE_NOT_USABLE = "The state folder {folder} cannot be used: {why}."
    STATION_NOT_WRITABLE = "Nothing can be written in the station {station}: {why}."
    STATION_IS_NOT_THERE = (
        "The station {station} is not there: it lacks the mark that was left in it, as when its "
        "disk or share is not connected. Connect it and the work goes on by itself; if this is how "
        "it shall be: filmhand doctor STATION --init"
    )
    NO_PROFILE = "There is no profile in {folder}."
    MAKE_PROFILE = (
        "Make one with: filmhand new-profile {file}; or name the folder of your profiles with "
        "--profiles."
    )
    STOPPED_EARLY = "Stopped before all was done."
    NOT_RUNNING = "filmhand is not running"
    GOES_ON = "taken and not finished; filmhand goes on with it when it runs"
    # What the service manager shows while it runs
    AT_WORK = "{working} in work, {waiting} waiting"
    # Profiles
    PROFILES_UNREADABLE = (
        "The profiles folder {folder} cannot be read; the profiles that were read before stay in "
        "force. Connect its disk or share, or give the user that runs filmhand the right to read "
        "there."
    )
    PROFILES_HANG = (
        "The profiles folder {folder} does not answer; the profiles that were read before stay in "
        "force. Look whether its disk or share is connected."
    )
    NO_CURVE = "{name} is no curve that can be used: {why}."
    STAYS_AS_BEFORE = "{file}: the profile {name} stays as it was before."
    FOLDER_IS_TAKEN = (
        "{file}: folder is {folder}, which the profile {other} ({other}.yaml) already has; give "
        "{name} a folder of its own."
    )
    FOLDER_LIES_INSIDE = (
        "{file}: folder is {folder}, which lies inside {kind}/ of the profile {other} "
        "({other}.yaml); give {name} a folder of its own."
    )
    FOLDER_HOLDS = (
        "{file}: folder is {folder}, which holds the folder of the profile {other} ({other}.yaml) "
        "inside its {kind}/; give {name} a folder of its own."
    )
    STATE_FOLDER = "State folder: {worry}"
    # Art that nobody takes
    TOP_OF_STATION = (
        "Pictures lie in the top of the station, where nothing takes them: {names}. To have films "
        "of them, move them from {folder} to a drop folder."
    )
    TOP_OF_FOLDER = (
        "Pictures lie in the top of {profile}'s folder, where nothing takes them: {names}. To have "
        "films of them, move them from {folder} to a drop folder."
    )
    AMONG_FILMS = (
        "Pictures lie in {kind}/ of {profile}, where nothing takes them: {names}. To have films of "
        "them, move them from {folder} to a drop folder."
    )
    NOBODYS_FOLDER = (
        "No profile that is right has the folder {folder}, and nobody takes what lies there (files "
        "in its drop folder: {waiting}; jobs in hand: {jobs}). Name its profile {name} again or "
        "correct it, or move the files to the drop folder of another profile."
    )
    # Whether it is alive
    NO_SERVICE = "Filmhand is not running for this station."
    NO_SIGN_YET = "The service has given no sign of life yet."
    SIGN_OF_THE_FUTURE = (
        "The sign of life bears a time in the future; this computer's clock jumped."
    )
    HANGS = "The service's last sign of life is {seconds} s old: it hangs. Start it again."
    NOT_LOOKED_AT = (
        "{profile}: the folder was last looked at {seconds} s ago; its disk or share may hang."
    )
    # The page over the network
    HOST_AND_PORT = "a host and a port, such as 127.0.0.1:8080 or [::]:8080"
    NO_PAGE_THERE = (
        "The page cannot be served at {host}:{port}: {why}. Choose another port, or a host that is "
        "this computer's."
    )
    NOT_OUR_NAME = "This name is not one of this page's."
    NOTHING_KNOWN = "Nothing is known yet."
    NOTHING_HERE = "There is nothing here."
    TOO_MUCH_ASKED = "Too much is asked for at once."
    # Messages to people
    LOOK_AT_PROOF = "Look at the proof before you print it."


class FileOutcome(Sentence):
    """What became of a file so far, as `history --json` names it and as people read it."""

    MADE = "made"
    REFUSED = "refused"
    WAITING = "waiting"
    GATHERING = "in hand (gathering)"
    GANGED = "in hand (ganged)"
    CLAIMING = "in hand (claiming)"
    CLAIMED = "in hand (claimed)"
    HELD = "in hand (held)"
    PUBLISHING = "in hand (publishing)"
    PARTING = "in hand (parting)"
    RETIRING = "in hand (retiring)"
    REJECTING = "in hand (rejecting)"
    RETURNING = "in hand (returning)"
    SETTLING = "in hand (settling)"


class MetricsWord(Sentence):
    """What a monitoring system shows of each figure."""

    WAITING = "Art that waits in the drop folder."
    WORKING = "Jobs in hand."
    JOBS = "Jobs finished since the service started."
    STRIKES = "Workers that died over a file since the service started."
    REACHABLE = "1 if the folder answers and is prepared."
    PAUSED = "1 if nothing is taken for now."
    OLDEST = "How long the longest waiting art has been in the drop folder; 0 if none waits."
    FREE = "Bytes that are free on the disk or share of the folder."
    SECONDS = "Time from taking art to its film or refusal."
    TO_PRINT = "Films that wait for the printer."
    DOUBTFUL = "Films of which nobody knows whether they were printed."
    BLOCKED = "1 if the printer cannot be worked with for now."
    RELOAD_FAILED = "1 if a profile is not right as it stands in its file."


class AnswerWord(Sentence):
    """What is answered to whoever asks about one file or film."""

    AND_LATER = "{done} Filmhand is not running here; it does so when it is started."
    # History
    LEDGER_LACKS = (
        "The ledger does not know all jobs yet, so older ones may be missing here. It is read in "
        "again while the service runs; `filmhand status` tells how far it is."
    )
    # Refused art is tried again
    PUT_BACK = "{name} is back in drop of {profile} and is made again when the service runs."
    SCAN_PUT_BACK = (
        "{name} is back in calibrate of {profile} and is read again when the service runs."
    )
    JUST_TAKEN = "{name} has just been taken out of rejected."
    NO_LONGER_REJECTED = (
        "{name} is no longer in rejected of {profile}: it was put back or taken away. To try it "
        "once more, drop the file again."
    )
    SEVERAL_REFUSED = "Several refused files are called {name}. Name the job of one: {found}"
    ONE_REFUSED = "{job} ({place}, {at}: {say})"
    WAS_MADE = (
        "Job {job} made a film of {name}. To make it once more, copy the file from originals of "
        "{profile} into drop."
    )
    NOT_FINISHED = (
        "Job {job} is not finished yet; it goes on by itself while the service runs, or, if "
        "`filmhand status` says that it is held, by `filmhand release`."
    )
    NOTHING_REFUSED = (
        "No refused file or job {name} is known at this station. `filmhand status STATION` lists "
        "what was refused."
    )
    # Held films
    RELEASED = "{film} of {profile} is released and goes on."
    GIVEN_UP = "{film} of {profile} is given up. Its art goes to rejected/."
    ALL_GIVEN_UP = "{film} of {profile} is given up. All art on it goes to rejected/."
    NOT_HELD = "No film called {name} is held here; `filmhand status` names those that are."
    SEVERAL_HELD = "Several held films are called {name}: {films}. Name one like that, or its job."
    PROOF_MISSING = (
        "The proof of {film} is missing in held/ and is laid down anew within a minute while the "
        "service runs; try again then."
    )
    PROOF_IN_THE_WAY = "Something else called {name} lies in {folder}; take it away and try again."
    # Films that go to a printer
    CANCELED = "{film} of {profile} is canceled."
    PRINTED_AGAIN = "{film} of {profile} is printed again."
    PRINTING_HELD = (
        "The films of {profile} are held until: filmhand resume STATION {profile}. One that is at "
        "the printer is printed to its end."
    )
    PRINTING_HELD_ALREADY = "The films of {profile} were held already."
    PRINTING_GOES_ON = "The films of {profile} go on to the printer."
    PRINTING_NOT_HELD = "The films of {profile} were not held."
    NOT_PRINTED = (
        "No film called {name} waits to be printed or is being printed; `filmhand status` names "
        "those that do."
    )
    SEVERAL_FILMS = "Several films are called {name}: {films}. Name one of them like that."
    NO_SUCH_PROFILE = "There is no profile {profile} at this station; it has: {known}."
    NO_PROFILES = "There is no profile {profile} at this station; it has none."
    FOLDER_NOT_READY = (
        "The folder {folder} is not there or not prepared; connect its disk or share, or start "
        "filmhand once."
    )
    NO_FILM = (
        "No film called {name} has been made here, or its record is gone; `filmhand history` tells "
        "of what there was. Drop the art again to have it made."
    )
    NO_PRINTER = (
        "The profile {profile} names no printer. Add it to the profile, as in print: {{printer: "
        "'ipp://film-printer.local/ipp/print'}}; `filmhand doctor --printers` finds its address."
    )
    PROFILE_NOT_READ = (
        "There is no profile {profile} that is right in {folder}, so its printer is not known. If "
        "the service was started with --profiles FOLDER, say the same here."
    )
    NEVER_RUN = "No service has run here yet; start it first: filmhand serve STATION"
    FILM_CHANGED = "{film} changed while it was read; try again."
    RECORD_NOT_USABLE = (
        "The record {name} cannot be used: {why}. Drop the art again to have its film made anew."
    )
    FILM_NOT_AS_MADE = (
        "The film is no longer in positives/ as it was made, so its bits cannot be sent again. "
        "Drop the art again: the same art gives the same bits."
    )


class AnswerCount(Counted):
    """What is counted in answers."""

    NOTHING_REFUSED_AND_AWAY = (
        "No refused file or job {name} is known at this station. The folder of {profiles} is not "
        "there now. `filmhand status STATION` lists what was refused.",
        "No refused file or job {name} is known at this station. The folders of {profiles} are not "
        "there now. `filmhand status STATION` lists what was refused.",
    )
