"""What is said of disks, shares, folders and rights, one row a sentence."""

from __future__ import annotations

from filmhand.language import Counted, Sentence


class DiskWord(Sentence):
    """What is wrong with a disk, a share or a file on it; ``{where}`` is a place or nothing."""

    IN_THE_WAY = (
        "A link, or something else that is no file or folder of its own, is in the way{where}; "
        "filmhand follows no links there. Move it away and filmhand goes on."
    )
    READ_ONLY = "The folder may only be read{where}; make it writable and filmhand goes on."
    NO_RIGHT = (
        "Filmhand has no right to do its work there{where}; give its user the right to read and "
        "write and it goes on."
    )
    NO_LONGER_THERE = "Something is no longer there{where}; filmhand looks again in a while."
    COMPUTER_SHORT = "This computer is short of memory or open files; filmhand tries again."
    NO_ANSWER = (
        "The disk or share does not answer as it should{where}: {error}; filmhand tries again."
    )
    # A file that waits for now.
    CANNOT_READ = "filmhand cannot read {name} ({error}); {whose}: {do}"
    CANNOT_MOVE = "filmhand cannot move {name} ({error}); {whose}: {do}"
    LET_READ = "give filmhand's user the right to read it"
    LET_MOVE = "give filmhand's user the right to write in its folder"
    CLOSE_IT = "close it in other programs"
    COPY_AGAIN = "copy it here again, and have its disk or share looked at"
    BELONGS_TO = "it belongs to {owner}, its rights are {rights}"
    BELONGS_TO_NUMBER = "it belongs to user {owner}, its rights are {rights}"
    BELONGS_TO_UNKNOWN = "whose it is cannot be told"
    NO_REGULAR_FILE = "it is no regular file"
    TOO_DEEP = "too many folders one in the other"
    NOT_KEPT = "the disk did not keep what was written"
    # Room.
    BYTES_LEFT = "{free} of {total} GB are free."
    MEGABYTES_LEFT = "{free} MB of {total} are free."
    NEARLY_FULL = "The disk is nearly full. {left} Make room before the work stops."


class DiskCount(Counted):
    """What is counted on a disk."""

    FILES_LEFT = ("Only {n} more file can be made there.", "Only {n} more files can be made there.")
    AND_MORE = ("{names} and {n} more", "{names} and {n} more")
    SET_ASIDE = (
        "Of what lay in filmhand's own folders, {n} did not fit or was not its own, and lies in "
        "{place} now: {names}.",
        "Of what lay in filmhand's own folders, {n} did not fit or were not its own, and lie in "
        "{place} now: {names}.",
    )
    WHETHER_MISSED = (
        "Look whether somebody misses it, then remove it.",
        "Look whether somebody misses them, then remove them.",
    )


class FolderWord(Sentence):
    """What is wrong with a profile's folder."""

    ABOUT = "filmhand works in this folder"
    NO_STATION = (
        "The station {station} is not there or is another than before; connect its disk or share "
        "and filmhand goes on by itself."
    )
    NOT_PREPARED = (
        "The folder {folder} is not there or is not prepared; connect the disk or share, or "
        "prepare a new one with: filmhand doctor STATION --init"
    )
    OTHER_DISK = (
        "The folder {folder} lies on another disk than {hidden}, and filmhand moves art by "
        "renaming, which works on one disk only. Put all of the profile's folder on one disk or "
        "share; `folder:` in the profile says where."
    )
    NOT_REAL = (
        "{folder} is a link or a file, and only a folder that lies there itself is used; put a "
        "real folder there, or name the real one with `folder:` in the profile."
    )


class FormWord(Sentence):
    """What is wrong with a JSON file that is read back."""

    NO_NOTES = "{folder}: it has no notes"
    WRONG_NOTES = "{folder}: {why}"
    TOO_DEEP = "nested too deep"
    NO_JSON_NUMBER = "{value} is no number in JSON"
    NOT_OF_KIND = "{value} is no {kind}"
    NO_SUCH_TEXT = "{value} is not as such a text should be"
    NONE_OF = "{value} is none of {words}"
    NO_SINGLE_NAME = "{value} is not the name of one thing in a folder"
    TOO_LONG = "{value} is too long"
    OUT_OF_RANGE = "{value} is not from {least} to {most}"
    NO_NUMBER = "{value} is no number"
    WRONG_COUNT = "a list of {found}, not of {needed}"
    COUNT_OUT_OF_RANGE = "a list of {found}, not of {least} to {most}"
    TOO_MANY_KEYS = "{found} keys, not at most {most}"
    MISSING = "it lacks {keys}"
    NOT_KNOWN = "it has keys that are not known: {keys}"
    NO_DAY = "{value} is no day"
