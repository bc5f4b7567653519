"""The ICC output profile of a press, as a profile or ticket names it.

Only its head is looked at here. What is kept is where it lies and the hash of what lay there, so
that a job is made with the file that its profile was read with, or not at all.
"""

from __future__ import annotations

import hashlib
import re
from enum import StrEnum
from pathlib import Path

from filmhand.profile.profile_words import Allowed
from filmhand.profile.read.curve import ICC_ENDINGS, ReadCurve
from filmhand.profile.read.values import NotAWordError, read_group, word
from filmhand.values import dataclass

_REFERENCE = re.compile(r"([0-9a-f]{64}) (.+)", re.DOTALL)


class RenderingIntent(StrEnum):
    """What becomes of colors that the inks do not print (ICC.1:2022, 6.2), by the word for it."""

    RELATIVE = "relative"
    PERCEPTUAL = "perceptual"
    SATURATION = "saturation"
    ABSOLUTE = "absolute"


@dataclass(frozen=True, slots=True)
class IccFile:
    """A file that holds an ICC profile.

    Attributes
    ----------
    name : as it is written
    path : where it lies
    sha256 : of its bytes
    """

    name: str
    path: Path
    sha256: str

    def read(self) -> bytes:
        """Its bytes, the same that were there when the profile was read.

        Raises
        ------
        OSError
            Where they cannot be read, or are others by now.
        """
        data = self.path.read_bytes()
        if hashlib.sha256(data).hexdigest() != self.sha256:
            raise OSError(None, Allowed.ICC_CHANGED.say())
        return data


@dataclass(frozen=True, slots=True)
class IccWish:
    """The profile that process inks are made by, and how colors beyond them are drawn in."""

    file: IccFile
    intent: RenderingIntent = RenderingIntent.RELATIVE


def read_icc(value: object, read_file: ReadCurve | None) -> IccWish | None:
    """``off`` (None), the name of a file, or a group with the file and the intent."""
    if value == "off" or value is False:
        return None

    def file(name: object) -> IccFile:
        known = isinstance(name, str) and name.lower().endswith(ICC_ENDINGS)
        if not known or read_file is None:
            raise ValueError(Allowed.ICC_FILE.say())
        found = read_file(str(name))
        matched = None if found is None else _REFERENCE.fullmatch(found.text)
        if matched is None:
            raise ValueError(Allowed.ICC_FILE.say())
        return IccFile(str(name), Path(matched[2]), matched[1])

    if isinstance(value, str) and value.lower().endswith(ICC_ENDINGS):
        return IccWish(file(value))
    if not isinstance(value, dict) or "file" not in value:
        raise NotAWordError(("off",), more=Allowed.ICC.say())
    return IccWish(**read_group(value, {"file": file, "intent": word(RenderingIntent)}))
