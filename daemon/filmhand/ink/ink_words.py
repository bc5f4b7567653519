"""What is said of inks, one row a sentence."""

from __future__ import annotations

from filmhand.errors import Reason, RefusalSentence


class InkRefusal(RefusalSentence):
    """Why there are no films of several inks."""

    LACKS_ADDITION = (
        Reason.NOT_ART,
        "Finding inks in art needs an addition that is not installed.",
        "Install the addition ({command}), or name the inks in the profile.",
    )
