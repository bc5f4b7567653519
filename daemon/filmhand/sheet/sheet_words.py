"""What is said of sheets and of what lies on them, one row a sentence."""

from __future__ import annotations

from filmhand.errors import Reason, RefusalSentence
from filmhand.language import Sentence


class SheetWord(Sentence):
    """The marks of a sheet as they are named where one has no room, and what a sheet is."""

    OWN_RESOLUTION = "its own resolution"
    UNDER = "under {most}"
    PART = "row {row} of {rows}, column {column} of {columns}"
    RULER_ACROSS = "the 100 mm bar across"
    RULER_DOWN = "the 100 mm bar down"
    SOLID_PATCH = "the solid patch"
    LABEL = "the label"
    STEP_WEDGE = "the step wedge"
    MARK_AT_TOP = "the registration mark at the top"
    MARK_AT_BOTTOM = "the registration mark at the bottom"
    MARK_AT_LEFT = "the registration mark at the left"
    MARK_AT_RIGHT = "the registration mark at the right"
    LARGER_THAN_SCREEN = (
        "The art is {art}, and a frame of {frame} inside prints at most {room}, since {free} on "
        "each side are for ink and squeegee: print it smaller, or take a larger screen."
    )


class PatternWord(Sentence):
    """What stands under the patches of a sheet that shows what a printer lays down."""

    SOLID = "SOLID: hold it to a lamp"
    CLEAR = "CLEAR: look for specks"
    LINES_UPRIGHT = "lines and gaps {size} px, upright"
    LINES_LYING = "lines and gaps {size} px, lying"
    CHECKER = "checker {size} px"
    SINGLE_LINES_UPRIGHT = "single lines {sizes} px, upright"
    SINGLE_LINES_LYING = "single lines {sizes} px, lying"
    SINGLE_GAPS_UPRIGHT = "single gaps {sizes} px, upright"
    SINGLE_GAPS_LYING = "single gaps {sizes} px, lying"
    DOTS = "dots {size} x {size} px"
    SHADOW_DOTS = "shadow dots {size} x {size} px"


class FieldWord(Sentence):
    """What stands over the fields of each :class:`FeatureKind` on a wedge."""

    DOTS = "dots, µm across"
    SHADOW_DOTS = "shadow dots, µm across"
    LINES = "lines, µm wide"
    GAPS = "gaps, µm wide"


class SheetRefusal(RefusalSentence):
    """The refusals of art that finds no room on the sheet, or no size."""

    NO_OWN_SIZE = (
        Reason.TOO_SMALL,
        "This art is to be printed at its own size, but the file does not say how many pixels it "
        "has to the inch.",
        "Save it again with its resolution set, or give the width in a ticket, such as art: {{fit: "
        "width 7 in}}.",
    )
    LARGER_THAN_SHEET = (
        Reason.TOO_BIG,
        "At the size asked for, the art is {art}, and this sheet has room for {room}.",
        "Ask for a width of at most {widest}, write art: {{tile: auto}} in the profile or its "
        "ticket to put it over several films, or use a profile with a larger sheet.",
    )
    TOO_MANY_FILMS = (
        Reason.TOO_BIG,
        "At {size} this art takes {count} films, and the profile allows at most {most}.",
        "Ask for a smaller size, use a profile with a larger sheet, or raise limits.pages in the "
        "profile to {count}.",
    )
    OVERLAP_TOO_WIDE = (
        Reason.TOO_BIG,
        "At {size} this art takes several films, and an overlap of {overlap} on every side leaves "
        "nothing between on this sheet.",
        "Set art.overlap to less than {most}, ask for a smaller size, or use a profile with a "
        "larger sheet.",
    )
    NO_ROOM_BETWEEN = (
        Reason.TOO_BIG,
        "At {size} this art takes several films, and an overlap of {overlap} on every side leaves "
        "nothing between on this sheet.",
        "Ask for a smaller size, or use a profile with a larger sheet.",
    )
    FILLED_BY_TOO_MANY = (
        Reason.TOO_BIG,
        "At {size} with gaps of {gap} this sheet would be filled by {count} copies, and at most "
        "{most} are laid on one.",
        "Ask for a number of copies, such as art: {{repeat: 50 x 50}}, a larger size, or a larger "
        "gap.",
    )
    NO_ROOM_FOR_COPY = (
        Reason.TOO_BIG,
        "At {size} there is no room for one copy and its trim marks on this sheet.",
        "Ask for a smaller size, or use a profile with a larger sheet.",
    )
    NO_ROOM_FOR_COPIES = (
        Reason.TOO_BIG,
        "At {size} with gaps of {gap} there is no room for {asked} copies and their trim marks on "
        "this sheet.",
        "Ask for {fitting} copies or fewer, such as art: {{repeat: {fitting}}}, a smaller size, or "
        "a smaller gap.",
    )
    NO_ROOM_BUT_FOR_ONE = (
        Reason.TOO_BIG,
        "At {size} with gaps of {gap} there is no room for {asked} copies and their trim marks on "
        "this sheet, only for one.",
        "Ask for a smaller size or a smaller gap, or write art: {{repeat: off}}.",
    )
    NO_ROOM_FOR_ANY = (
        Reason.TOO_BIG,
        "At {size} with gaps of {gap} there is no room for {asked} copies and their trim marks on "
        "this sheet.",
        "Ask for a smaller size, or use a profile with a larger sheet.",
    )
    NO_ROOM_HOWEVER_SMALL = (
        Reason.TOO_BIG,
        "With gaps of {gap} there is no room for {asked} copies and their trim marks on this "
        "sheet, however small they are.",
        "Ask for fewer copies in art.repeat, for a smaller art.gap, or use a profile with a larger "
        "sheet.",
    )
