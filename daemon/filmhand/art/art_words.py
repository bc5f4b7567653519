"""What is said of the part of the art that is kept."""

from __future__ import annotations

from filmhand.errors import Reason, RefusalSentence
from filmhand.language import Sentence


class CropRefusal(RefusalSentence):
    """The refusals of what ``art.crop`` asks for."""

    NO_OWN_SIZE = (
        Reason.TOO_SMALL,
        "A border in millimeters or inches is to be cut off this art, but the file does not say "
        "how many pixels it has to the inch.",
        "Save it again with its resolution set, or give the borders in percent in a ticket, such "
        "as art: {{crop: {{left: 10 %}}}}.",
    )
    NOTHING_LEFT = (
        Reason.BLANK,
        "The borders that art.crop cuts off leave nothing of this art, which is {size} at its own "
        "size.",
        "Cut off less, or give the borders in percent.",
    )


class CropWord(Sentence):
    """Figures of those refusals, in words."""

    OWN_RESOLUTION = "its own resolution"
