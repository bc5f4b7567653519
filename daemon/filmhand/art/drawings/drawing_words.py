"""What is said of files of commands, PDF and SVG: refusals, and notes of the record."""

from __future__ import annotations

from filmhand.errors import Reason, RefusalSentence
from filmhand.language import Sentence

_EXPORT_AGAIN = "Export it again as plain SVG; if that does not help, save it as PDF or PNG."


class DrawingRefusal(RefusalSentence):
    """The refusals of documents and drawings."""

    NO_SUCH_SIZE = (
        Reason.DAMAGED,
        "“{name}” says it is {width} x {height} in ({width_mm} x {height_mm} mm), which no drawing "
        "is.",
        "Give it a page of {smallest} to {largest} in ({smallest_mm} to {largest_mm} mm), no more "
        "than {times} times as long as wide, and save it again.",
    )
    # PDF.
    NEEDS_PASSWORD = (
        Reason.LOCKED,
        "“{name}” needs a password.",
        "Save a copy without a password and drop that.",
    )
    BROKEN_DOCUMENT = (
        Reason.DAMAGED,
        "“{name}” is damaged: the document breaks off or contradicts itself.",
        "Export or copy it again; if that does not help, save the page as PNG or TIFF.",
    )
    # SVG.
    NOT_WELL_FORMED = (
        Reason.DAMAGED,
        "“{name}” is damaged: it is no well-formed drawing.",
        _EXPORT_AGAIN,
    )
    SAYS_NO_SIZE = (
        Reason.DAMAGED,
        "“{name}” is damaged: it says no size, neither width and height nor a viewBox.",
        _EXPORT_AGAIN,
    )
    NOT_DRAWN = (
        Reason.DAMAGED,
        "“{name}” is damaged: the renderer cannot make sense of it.",
        _EXPORT_AGAIN,
    )
    TOO_MUCH = (
        Reason.TOO_BIG,
        "“{name}” is larger, or unfolds to more elements, than can be drawn.",
        "Simplify the drawing, or save it as PDF, PNG or TIFF and drop that.",
    )
    POINTS_OUTSIDE = (
        Reason.DAMAGED,
        "“{name}” is not complete: it points to a picture in another file ({other}), and other "
        "files are never opened.",
        "Embed its pictures, save it again and drop that.",
    )
    LACKS_FONT = (
        Reason.NOT_ART,
        "“{name}” sets text in a font that this computer does not have ({fonts}).",
        "Turn the text into outlines and save it again, or install the font on the computer that "
        "runs filmhand.",
    )
    NO_FONTS = (
        Reason.NOT_ART,
        "“{name}” sets text, and this computer has no font at all.",
        "Turn the text into outlines and save it again, or install fonts on the computer that "
        "runs filmhand.",
    )


class DrawingNote(Sentence):
    """What the record tells of a document or drawing, and words within that."""

    SHAPE_OF_WHITE = (
        "All visible parts of this transparent art are white, so its shape was printed as ink (as "
        "channel: alpha does)."
    )
    # PDF.
    STAND_IN_FONTS = (
        "The document does not bring its fonts along ({fonts}); a stand-in was used, so please "
        "compare the lettering. Embed the fonts, or turn text into outlines."
    )
    FONTS_OF_COMPUTER = (
        "The document does not bring its fonts along ({fonts}); this computer's own were used, and "
        "another computer may have none. Embed the fonts, or turn text into outlines."
    )
    NAMELESS_FONT = "without a name"
    COARSE_PICTURE = (
        "A picture within the page brings only {ppi} pixels to the inch of the page, which may "
        "show."
    )
    BLACK_INK = "Black ink alone was taken as it is, not as a press would print it."
    # SVG.
    SCRIPTS = "The drawing carries scripts; they were not run."
    ANIMATED = "The drawing is animated; it was drawn as it stands at rest."
    FOREIGN_PARTS = (
        "The drawing holds parts that are not SVG (foreignObject); they were left out, so please "
        "compare."
    )
    SECOND_FONTS = (
        "A font is not on this computer ({fonts}); the drawing's own second choice was used, so "
        "please compare the lettering, or turn text into outlines."
    )
    # Figures of a refusal, in words.
    TOO_MANY = "too many"
