"""The steps at which a kill must be harmless, in the order in which a job passes them.

The failure tests stop the process at every step of these lists, so a step without a test cannot be
added. In normal running :func:`failpoint` costs one comparison.
"""

from __future__ import annotations

import os
import signal
from collections import Counter

FAILPOINTS = (
    "job folder made",
    "intent written",
    "art claimed",
    "companions claimed",
    "claim recorded",
    "art copied",
    "films made",
    "films staged",
    "names recorded",
    "record published",
    "proof published",
    "film published",
    "publishing recorded",
    "refusal recorded",
    "refusal logged",
    "why written",
    "places recorded",
    "companions put away",
    "art put away",
    "result remembered",
    "job folder emptied",
)

# What `filmhand retry` adds: refused art on its way back into the drop folder.
FAILPOINTS_RETRY = (
    "way back noted",
    "refused art fetched",
    "companions fetched",
    "note retired",
    "refused art given back",
)

# What a film adds that goes to a printer: its order, published with it.
FAILPOINTS_ORDER = ("order published", "order taken back")

# What the scan of a wedge adds; it makes no film.
FAILPOINTS_SCAN = ("read again", "reading published")

# What art adds that changed after it was taken.
FAILPOINTS_CHANGED = ("change noted", "film withdrawn", "films withdrawn", "settled again")

# What a gang adds to the steps of its members.
FAILPOINTS_GANG = (
    "gang folder made",
    "gang noted",
    "members claimed",
    "gang complete",
    "sheet made",
    "member let go",
    "left for another sheet",
    "sheet staged",
    "sheet named",
    "gang parts",
)

# The steps of an order at its printer; `filmhand.prints.steps` passes them.
FAILPOINTS_PRINT = (
    "print begun",
    "print job created",
    "print number noted",
    "sending noted",
    "document sent",
    "sent noted",
    "print event written",
    "doubt noted",
    "print end noted",
    "print told",
    "documents removed",
    "order removed",
)

# What a film adds that is held, or whose sheets are counted.
FAILPOINTS_HELD = (
    "held note written",
    "proof held",
    "holding recorded",
    "letting go noted",
    "sheets counted",
    "proof taken from held",
    "let go",
    "giving up noted",
    "gang given up",
)

ALL_FAILPOINTS = (
    FAILPOINTS,
    FAILPOINTS_RETRY,
    FAILPOINTS_ORDER,
    FAILPOINTS_SCAN,
    FAILPOINTS_CHANGED,
    FAILPOINTS_GANG,
    FAILPOINTS_PRINT,
    FAILPOINTS_HELD,
)

_DIE_AT = os.environ.get(
    "FILMHAND_DIE_AT", ""
)  # tests only: "film published" or "film published:2"
_passed: Counter[str] = Counter()


def failpoint(name: str) -> None:
    """Mark that the step `name` is done and durable; tests make the process die here."""
    if not _DIE_AT:
        return
    if not any(name in steps for steps in ALL_FAILPOINTS):
        raise ValueError(f"{name!r} is in no list of steps")
    _passed[name] += 1
    wanted, _, count = _DIE_AT.partition(":")
    if name == wanted and _passed[name] == int(count or 1):
        os.kill(os.getpid(), signal.SIGKILL)
