"""Damage that decoders pass over, or only warn of: small damage is told, more is refused.

A PNG is held against its check sums, of which its decoder heeds only some; a JPEG against what a
strict decoder warns of.
"""

from __future__ import annotations

from filmhand.art.files import extras
from filmhand.art.files.decode import ExaminedFile, chunks_of, coefficient_bytes, damaged
from filmhand.art.files.file_types import FileType
from filmhand.art.files.file_words import DamageWord, FileNote
from filmhand.art.formats.jpeg_codes import find_wrong_rows, warning_of
from filmhand.art.formats.jpeg_markers import frame_of
from filmhand.art.formats.png_chunks import is_picture_right, rows_before_damage
from filmhand.errors import Reason, Refused
from filmhand.language import and_list

SMALL = 0.02
"""The share of its rows that may be wrong in art of which a film is made."""
# Bytes of a file; looking for its damage takes up to three times as many.
_LARGEST_BESIDE = 32 * 2**20
_PNG_CHANNELS = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}


def is_found_beside(art: ExaminedFile) -> bool:
    """Whether damage may be looked for while another decoder is at work on the picture.

    Of a JPEG of several scans each decoder keeps as much as of the whole picture; and a large file
    would take the room that the picture may need.
    """
    if art.kind is not FileType.JPEG or art.path.stat().st_size > _LARGEST_BESIDE:
        return False
    return not coefficient_bytes(art)


def damage_notes(art: ExaminedFile) -> list[str]:
    """What to tell of damage to a picture that its decoder read to the end.

    Raises
    ------
    Refused
        ``damaged``, where more than a small part of it is wrong, or nobody can tell how much.
    """
    if art.kind is FileType.PNG:
        return _png_notes(art)
    if art.kind is FileType.JPEG and "simplejpeg" in extras.installed():
        return _jpeg_notes(art)
    return []


def _png_notes(art: ExaminedFile) -> list[str]:
    with art.path.open("rb") as file:
        broken = [one for one in chunks_of(art, file) if not one.is_right]
        # Its decoder heeds the picture's own sum only where that comes with the last pixels.
        if any(one.name == b"IDAT" for one in broken) and not is_picture_right(
            file, chunks_of(art, file)
        ):
            raise with_place(damaged(art.name, DamageWord.WRONG_SUM), art)
    notes = [
        FileNote.PART_LEFT_OUT.say(part=one.name.decode("ascii", "replace"))
        for one in broken[:3]
        if not one.is_needed
    ]
    if any(one.name == b"IDAT" for one in broken):
        notes.append(FileNote.PIXELS_RIGHT.say())
    return notes


def with_place(refusal: Refused, art: ExaminedFile) -> Refused:
    """The refusal of a damaged PNG with the place where it begins to be wrong, if that is known."""
    if art.kind is not FileType.PNG or refusal.reason is not Reason.DAMAGED or len(art.head) < 29:
        return refusal
    width, height = (int.from_bytes(art.head[at : at + 4], "big") for at in (16, 20))
    row_bits = width * art.head[24] * _PNG_CHANNELS.get(art.head[25], 4)
    with art.path.open("rb") as file:
        rows = rows_before_damage(file, chunks_of(art, file), 1 + (row_bits + 7) // 8)
    if rows is None or art.head[28] or not height:  # the rows of a woven PNG have no one place
        return refusal
    share = 100 * min(rows, height) / height
    return damaged(art.name, DamageWord.WRONG_SUM_FROM, share=f"{share:.0f}")


def _jpeg_notes(art: ExaminedFile) -> list[str]:
    data = art.path.read_bytes()
    warning = warning_of(data)
    if warning is None:
        return []
    with art.path.open("rb") as file:
        frame = frame_of(file, len(data))
    height = frame.height if frame else 0
    return _told(art, find_wrong_rows(data), height, warning)


def _told(art: ExaminedFile, wrong: list[tuple[int, int]], height: int, warning: str) -> list[str]:
    """The note for wrong rows, from and to; or the refusal. None of them means nobody knows."""
    if not wrong or not height:
        raise damaged(art.name, DamageWord.PART_WRONG, warning=warning)
    share = sum(stop - first for first, stop in wrong) / height
    places = [
        DamageWord.FROM_TO.say(
            first=f"{100 * first / height:.0f}", last=f"{100 * stop / height:.0f}"
        )
        for first, stop in wrong[:3]
    ]
    where = and_list([*places, DamageWord.MORE_PLACES.say()] if wrong[3:] else places)
    if share > SMALL:
        raise damaged(art.name, DamageWord.ROWS_WRONG, warning=warning, where=where)
    return [FileNote.FEW_ROWS_WRONG.say(warning=warning, share=f"{100 * share:.1f}", where=where)]
