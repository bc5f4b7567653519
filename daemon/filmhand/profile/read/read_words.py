"""What is said of a profile or ticket that is not right, one row a sentence or a part of one."""

from __future__ import annotations

from filmhand.language import Counted, Sentence
from filmhand.rows import RowEnum


class TextFault(Sentence):
    """What is wrong with the text of a file, before anybody asks what its keys mean."""

    AT_KEY = "{key}: {fault}"

    # No text.
    NOT_UTF8 = "a character here is not UTF-8 text; save the file again with the encoding UTF-8"
    NO_CHARACTER = "a character here cannot be part of a text file"
    NO_ESCAPE = "an escape here is no character; write the text plainly"
    WORD_PROCESSOR = "this is a file of a word processor; save it there as plain text (.txt)"
    CONTROL = "the text holds a control character; take it out"
    CONTROL_IN_KEY = "{key} holds a control character; take it out"
    LONG_VALUE = "a value must be {most} characters or less"
    LONG_VALUE_OF_KEY = "{key} must be {most} characters or less"
    TOO_DEEP = "lists or groups are nested too deeply here"
    PROFILE_TOO_LONG = "a profile must be 64 KiB or less"
    TICKET_TOO_LONG = "a ticket must be 64 KiB or less"
    PROFILE_OF_KIB = "a profile must be 64 KiB or less, not {found} KiB"
    TICKET_OF_KIB = "a ticket must be 64 KiB or less, not {found} KiB"

    # No list of settings.
    PROFILE_EMPTY = "the profile is empty"
    TICKET_EMPTY = "the ticket is empty"
    PROFILE_SETTINGS = "a profile is a list of settings such as `lpi: 25`, one a line"
    TICKET_SETTINGS = "a ticket is a list of settings such as `lpi: 25`, one a line"
    PROFILE_DASHES = (
        "take the - at the start of the lines away; a profile is a list of settings such as "
        "`lpi: 25`, one a line"
    )
    TICKET_DASHES = (
        "take the - at the start of the lines away; a ticket is a list of settings such as "
        "`lpi: 25`, one a line"
    )
    PROFILE_PARTED = "a profile is one document; take away this ---"
    TICKET_PARTED = "a ticket is one document; take away this ---"
    NO_SPACE = "put a space after the colon, as in `lpi: 25`"
    NO_COLON = "write a colon and a space between the two, as in `lpi: 25`"
    NO_SETTING = "this line is no setting; a setting is `key: value`, with a space after the colon"

    # Keys and what YAML has besides settings.
    TWICE = "{key} is given twice (first on line {line})"
    KEY_IS_GROUP = "a key must be a plain word, not a list, a group or *name"
    KEY_MARKED = "a key must be a plain word, without & or !"
    KEY_IS_NO_WORD = "a key must be a word, not {found}"
    KEY_IS_DIGITS = "a key must be a word, not {found}; a decimal point is a full stop, not a comma"
    KEY_EMPTY = "a key must be a word, not nothing"
    ALIAS = "*{name} cannot be used; write the value out here"
    ANCHOR = "&{name} cannot be used; write the value only"
    TAG = "a tag (!) cannot be used; write the value only"
    MERGE = "<< (a merge) cannot be used; write the settings out here"

    # No YAML.
    TAB = "a Tab stands here; use spaces"
    SECOND_COLON = (
        "a second colon stands here, or the line begins farther in than the one above; a setting "
        "is `key: value`, and a text with a colon in it needs quotes"
    )
    AFTER_QUOTE = "the text goes on after its closing quote; put the quotes around all of it"
    NOT_IN_LINE = (
        "the line does not line up with the ones above; settings of one group begin in the same "
        "column"
    )
    NOT_CLOSED = "a list or group in brackets is not closed before here"
    ENDS_INSIDE = "the file ends inside quotes or brackets"
    NO_START = (
        "nothing can begin with the character that stands here; take it away, or put the text in "
        "quotes"
    )
    MORE_THAN_SETTINGS = "the file holds more than its settings from here on"
    NOT_YAML = "this is not well-formed YAML ({problem})"


class FileFault(Sentence):
    """What is wrong with the file of a profile as a whole."""

    CANNOT_READ = "the file cannot be read: {why}"
    NOT_THERE = "there is no such profile; filmhand new-profile writes one"
    NOT_THERE_BUT = "there is no such profile; did you mean {near}?"
    CANNOT_LIST = "The profile folder {folder} cannot be listed: {why}."
    SAME_NAME = "{first} already gives the profile {profile}; rename one of the two"
    RESERVED = "a profile cannot be called {name}, which the station needs; rename the file"
    UNFIT_NAME = (
        "the file's name becomes a folder: it must be made of letters, digits, spaces, - and _, "
        "and begin with a letter or digit; rename the file"
    )
    LONG_NAME = "the file's name must be 100 bytes or less; rename the file"


class ValueFault(Sentence):
    """What is wrong with a value: what is allowed, what was found, what would help."""

    MUST_BE = "{key} must be {allowed}"
    MUST_BE_NOT = "{key} must be {allowed}, not {found}"
    MUST_BE_NOT_HINT = "{key} must be {allowed}, not {found}; {hint}"
    OF_CURVE = "{key} {fault}"

    # What was found.
    LEFT_EMPTY = "left empty"
    GROUP = "a group of settings"
    LIST = "the list {list}"

    # What is allowed, where that goes for all of a group.
    GROUP_WITH = "a group of settings, with {keys} inside it"


class KeyFault(Sentence):
    """What is wrong with a key."""

    UNKNOWN = "{key} is not a known key; {hint}"
    FORMER = "{key} is now {now}"
    CELLS_GONE = (
        "{key} is gone: verdict.moire goes by how well bands are seen, {{warn: 0.02, fail: 0.1}}"
    )
    MISSING = "{key} is missing; it is required: {use}"
    MISSING_FOR_TONE = (
        "{key} is missing; it is required since art can be screened (art.treat is {treat}): {use}"
    )
    MISSING_FOR_LINE = (
        "{key} is missing; it is required since line art can come (art.treat is {treat}): {use}"
    )
    MISSING_IN_TICKET = "{fault}; the profile gives none, so the ticket must"


class KeyUse(Sentence):
    """What a required key is for, and how it is written."""

    SHEET = "the film's size, such as sheet: 8.5 x 11 in"
    DPI = "what the printer lays down, such as dpi: 600"
    LPI = "screen lines per inch, such as lpi: 25"
    DOT = "the dot shape, such as dot: round"
    THRESHOLD = "for line art, such as threshold: 50"
    MESH = "the screen's fabric, such as mesh: 43-80, or mesh: none"
    MARGIN = "what the printer cannot reach, such as margin: 0.25 in"


class HintWord(Sentence):
    """What was likely meant, or is to be written instead."""

    MEANT = "did you mean {word}?"
    MEANT_INSIDE = "did you mean {word}, which belongs inside {group}?"
    MEANT_AT_TOP = "did you mean {word}, which belongs at the top level?"
    WRITE = "write {written}"
    IN_PROFILE = "that is {word}, which belongs in the profile"
    IN_TICKET = "that is {word}, which belongs in a ticket"
    KEYS_INSIDE = "inside {group} stand {keys}"
    KEYS_OF_PROFILE = "in a profile stand {keys}"
    KEYS_OF_TICKET = "in a ticket stand {keys}"

    # Keys as people and the trade call them.
    SCREEN = "write the screen as lpi: 25, angle: 45 and dot: round"
    CONTRAST = "write tone: {{contrast: 1.2}}, where 1 leaves it"
    BRIGHTNESS = "write tone: {{midtone: -5}}, where less than 0 is brighter"
    LIFT = "write tone: {{midtone: 5}}, where 0 leaves it"
    CLEAR = "write tone: {{dropout: 5}}, the tone up to which film stays clear"
    ENDS = "write tone: {{hold: [8, 92]}}, the smallest and the largest tone"

    # Values.
    UNIT = "the unit is missing: {written}"
    SIZE_UNIT = "say the unit as well, such as {written}"
    MOIRE_SHARE = (
        "moire goes by how well bands are seen, a share without a unit, and not by a length"
    )
    POINT = "a decimal point is a full stop: {written}"
    COMMA = "a comma ends a setting here, and a decimal point is a full stop, as in 7.5 in"
    NO_QUOTES = "take the quotes away"
    NUMBER_ALONE = "write the number alone: {written}"


class CurveFault(Sentence):
    """What is wrong with a press curve: what is said after the key, or after its file."""

    NO_PERCENT = "has the point {film}, {printed}, and both must be percent from 0 to 100"
    NO_END = "has the point {film}, {printed}, but 0 must print 0 and 100 must print 100"
    NO_RISE = "has film tone {next_film} after {film}, and film tones must rise"
    FALLS = (
        "has a print that falls from {printed} at film tone {film} to {next_printed} at "
        "{next_film}; measure these patches again"
    )

    # The file.
    IN_FILE = "names the curve file {name}, which {fault}"
    NO_PAIR = (
        "names the curve file {name}, whose line {line} must be film % and print %, such as "
        "50, 65, not {found}"
    )
    NO_NUMBER = "names the curve file {name}, whose line {line} is not a number"
    NOT_FROM_HERE = "names the curve file {name}, which cannot be read from here"
    NOT_BESIDE = "names the curve file {name}, which is not beside the profile"
    CANNOT_READ = "names the curve file {name}, which cannot be read: {why}"
    NO_FILE_NAME = "names the curve file {name}, which cannot be read: not a file name"
    TOO_LONG = "names the curve file {name}, which is over 64 KiB"
    NOT_UTF8 = "names the curve file {name}, which is not UTF-8 text"
    NOT_THERE = "names the curve file {name}, which is not there"
    PASSED_OVER = (
        "tone.gain {fault}. The press curve {name}, which is older, is in force until that is "
        "corrected or taken away."
    )
    STAYS_MEANWHILE = (
        "tone.gain {fault}. It stays in force as it was read before, and is looked at again by "
        "itself; see whether disk and share are well."
    )


class CurveCount(Counted):
    """What is counted in a press curve."""

    FEW_POINTS = (
        "has {n} point, and a curve needs {needed} or more",
        "has {n} points, and a curve needs {needed} or more",
    )


class IccFault(Sentence):
    """What is wrong with an ICC profile: predicates of the key that names it, and their ends."""

    IN_FILE = "names the ICC profile {name}, which {fault}"
    NOT_BESIDE = "names the ICC profile {name}, which is not beside the profile"
    TOO_LONG = "is over 16 MiB"
    NO_PROFILE = "is not an ICC profile at all"
    BREAKS_OFF = "is shorter than it says"
    OTHER_KIND = "is {kind}, and must be one of a press or printer (class prtr)"
    OTHER_COLORS = "is of a press for {colors}, and must be of one for CMYK"


class IccKind(Sentence):
    """What an ICC profile may be instead of one of a press."""

    DISPLAY = "one of a display"
    SCANNER = "one of a scanner or camera"
    LINK = "a link of two devices"
    SPACE = "one of a color space"
    ABSTRACT = "one that only changes colors"
    NAMED = "a list of named colors"


class TogetherFault(Sentence):
    """What is wrong with settings that are right for themselves and not together."""

    GANG = (
        "gang puts several art files on one sheet, and with art.fit: page each fills the sheet; "
        "give art.fit a size, such as art: {{fit: width {width}}}, or leave gang off"
    )
    MARGIN = (
        "margin leaves no sheet: of {sheet}, {left} remain inside it, and at least {needed} are "
        "needed"
    )
    WIDTH = (
        "art.fit must be a width of {room} or less, which is what the sheet has inside its "
        "margin, not {found}; or write art: {{tile: auto}} in the profile or a ticket, which puts "
        "large art over several films"
    )
    HEIGHT = (
        "art.fit must be a height of {room} or less, which is what the sheet has inside its "
        "margin, not {found}; or write art: {{tile: auto}} in the profile or a ticket, which puts "
        "large art over several films"
    )
    WIDTH_TURNED = (
        "art.fit must be a width of {room} or less, which is what the sheet has inside its "
        "margin for art that is turned, not {found}; or write art: {{tile: auto}} in the profile "
        "or a ticket, which puts large art over several films"
    )
    HEIGHT_TURNED = (
        "art.fit must be a height of {room} or less, which is what the sheet has inside its "
        "margin for art that is turned, not {found}; or write art: {{tile: auto}} in the profile "
        "or a ticket, which puts large art over several films"
    )
    REPEAT_AND_TILE = (
        "art.repeat must be off where art.tile is auto: art lies several times on one sheet or "
        "over several sheets, not both; set one of the two to off"
    )
    WITHOUT_INKS = (
        "{key} is for films of several inks, and inks is off; write inks, or leave {key} off"
    )
    INKS_AND = (
        "{key} must be {value} where inks is on, as films of several inks cannot be combined with "
        "it yet"
    )
    UNDERBASE_FIRST = (
        "underbase.ink must be the first ink of inks, as it is printed below all others, or an ink "
        "that is not in the list, not {found}"
    )
    TOO_MANY_INKS = "inks and underbase together must be {most} inks or less, not {found}"
    TREAT_LINE = (
        "separate must be spot or auto where art.treat is line, as inks over each other need "
        "screens, not {found}"
    )
    PROCESS_LINE = (
        "inks must not be process where art.treat is line, as process inks lie over each other and "
        "need screens; list the inks, or write art: {{treat: tone}}"
    )
    ICC_AND = (
        "{key} must be {value} where icc names the profile of a press, which is for cyan, magenta, "
        "yellow and black over each other"
    )
    FILL_PAGE = (
        "art.repeat must be a number such as 3 x 2 where art.fit is page; fill needs a size, such "
        "as art: {{fit: width {width}}}"
    )


class FileKind(RowEnum):
    """The kinds of file that hold settings, with what is said of each."""

    empty: TextFault
    too_long: TextFault
    of_kib: TextFault
    settings: TextFault
    dashes: TextFault
    parted: TextFault
    keys: HintWord
    elsewhere: HintWord

    PROFILE = (
        "profile",
        TextFault.PROFILE_EMPTY,
        TextFault.PROFILE_TOO_LONG,
        TextFault.PROFILE_OF_KIB,
        TextFault.PROFILE_SETTINGS,
        TextFault.PROFILE_DASHES,
        TextFault.PROFILE_PARTED,
        HintWord.KEYS_OF_PROFILE,
        HintWord.IN_TICKET,
    )
    TICKET = (
        "ticket",
        TextFault.TICKET_EMPTY,
        TextFault.TICKET_TOO_LONG,
        TextFault.TICKET_OF_KIB,
        TextFault.TICKET_SETTINGS,
        TextFault.TICKET_DASHES,
        TextFault.TICKET_PARTED,
        HintWord.KEYS_OF_TICKET,
        HintWord.IN_PROFILE,
    )
