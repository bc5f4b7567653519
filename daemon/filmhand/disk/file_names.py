"""File names: what customers call their art, and what films may be called.

A customer's name is kept byte for byte (names that are not UTF-8 travel as surrogate escapes, as
:func:`os.fsdecode` gives them). Films, proofs and records take a cleaned stem of it.
"""

from __future__ import annotations

import hashlib
import os
import re
import secrets
import unicodedata
from collections.abc import Callable
from fnmatch import translate

TICKET_END = ".ticket.yaml"
# As people's editors name them; a plain editor adds its own ending to whatever it saves.
TICKET_ENDS = (TICKET_END, ".ticket.yml", ".ticket.txt", ".ticket.yaml.txt", ".ticket.yml.txt")
MASK_END = ".clear.png"
WHY_END = ".why.txt"

NAME_BYTES = 255  # the longest name that the usual file systems hold
STEM_BYTES = 120
_ONE_BY_ONE = 8  # numbers behind a name that are tried in turn

# What programs leave behind or have not finished, in lower case. Common practice, no source, but
# where a comment names one; each is a name that no customer gives to a picture.
_NOISE_FILES = (
    ".*",  # also .nfs*, .fuse_hidden* and .smbdelete*: open files that network systems keep
    "~$*",  # owner files of office programs
    "*~",
    "*.part",
    "*.partial",
    "*.filepart",
    "*.crdownload",
    "*.download",
    "*.opdownload",
    "*.aria2",
    "*.!sync",
    "*.tmp",
    "*.temp",
    "*.swp",
    "thumbs.db",
    "ehthumbs.db",
    "ehthumbs_vista.db",
    "desktop.ini",
    "icon\r",  # the picture of a folder
    "*:zone.identifier",  # streams of another file system that became files of their own
    "*:afp_afpinfo",
    "*:afp_resource",
)
_NOISE_FOLDERS = (
    ".*",  # also .snapshot, .Trash-1000, .AppleDouble, .@__thumb, .stfolder
    "@eadir",
    "@tmp",
    "@recycle",
    "#recycle",
    "#snapshot",
    "~snapshot",
    "__macosx",
    "$recycle.bin",
    "system volume information",
    "lost+found",
    "network trash folder",
    "temporary items",
    "thevolumesettingsfolder",
    "*.sb-????????-??????",  # where a program saves before it exchanges
)
# Noise that its system makes anew wherever it is missing, so that removing it loses nothing.
_REMADE = (
    ".ds_store",
    "._*",
    "thumbs.db",
    "ehthumbs.db",
    "ehthumbs_vista.db",
    "@eadir",
    ".@__thumb",
)
_IS_NOISE = re.compile("|".join(map(translate, _NOISE_FILES)))
_IS_NOISE_FOLDER = re.compile("|".join(map(translate, _NOISE_FOLDERS)))
_IS_REMADE = re.compile("|".join(map(translate, _REMADE)))
_SUFFIX = re.compile(r"\.(?=[0-9]*[A-Za-z])[A-Za-z0-9]{1,5}$")
# Names that mean a device to some desktop systems, with or without a suffix (common practice).
_DEVICE = re.compile(r"(?i)(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?")
_REFUSAL_LOG = re.compile(r"(?i)rejections(\..*)?\.jsonl")
_FORBIDDEN = '<>:"/\\|?*'
_JOINERS = (
    "\u200c\u200d"  # joiners shape letters and emoji; the other format characters only deceive
)


def random_digits() -> str:
    """Eight hexadecimal digits, for a name that nothing else has."""
    return secrets.token_hex(4)


def is_noise(name: str) -> bool:
    """True for files that programs leave behind or have not finished: never art."""
    return _IS_NOISE.match(name.lower()) is not None


def is_noise_folder(name: str) -> bool:
    """True for folders that systems keep for themselves.

    >>> is_noise_folder("@eaDir"), is_noise_folder("class 4")
    (True, False)
    """
    return _IS_NOISE_FOLDER.match(name.lower()) is not None


def is_remade(name: str) -> bool:
    """True for helper files and folders that their system makes anew if they are missing.

    >>> is_remade("@eaDir"), is_remade("desktop.ini")
    (True, False)
    """
    return _IS_REMADE.match(name.lower()) is not None


def is_refusal_log(name: str) -> bool:
    """True for the names that filmhand's own logs have in rejected/; no refused art gets them."""
    return _REFUSAL_LOG.fullmatch(name) is not None


def no_log(name: str) -> str:
    """A name like that of a log which is none; a number would not do in `rejections.x.jsonl`.

    >>> no_log("rejections.jsonl"), no_log("Rejections.2025.jsonl")
    ('rejections-art.jsonl', 'Rejections-art.2025.jsonl')
    """
    word, dot, rest = name.partition(".")
    return f"{word}-art{dot}{rest}"


def companion_of(name: str) -> tuple[str, str] | None:
    """The art that a ticket or mask belongs to, and which of the two it is; None for art.

    >>> companion_of("poster.jpg.ticket.yaml")
    ('poster.jpg', 'ticket')
    >>> companion_of("poster.jpg") is None
    True
    """
    for end, kind in (*((end, "ticket") for end in TICKET_ENDS), (MASK_END, "mask")):
        if name.lower().endswith(end) and len(name) > len(end):
            return name[: -len(end)], kind
    return None


def companion_end(name: str) -> str:
    """What a ticket's or mask's name has after that of its art; empty for art.

    >>> companion_end("Poster.JPG.Ticket.yaml"), companion_end("poster.jpg")
    ('.Ticket.yaml', '')
    """
    belongs = companion_of(name)
    return "" if belongs is None else name[len(belongs[0]) :]


def split_suffix(name: str) -> tuple[str, str]:
    """Stem and suffix, where a suffix is a dot and one to five letters or digits.

    >>> split_suffix("poster.final.jpeg"), split_suffix("v1.2 final")
    (('poster.final', '.jpeg'), ('v1.2 final', ''))
    """
    found = _SUFFIX.search(name)
    if found is None or found.start() == 0:
        return name, ""
    return name[: found.start()], found[0]


def shown(name: str) -> str:
    """The name as people may see it: valid text without control or direction characters."""
    if name.isascii() and name.isprintable():
        return name
    text = os.fsencode(name).decode("utf-8", "replace")
    return "".join("\ufffd" if _deceives(c) else c for c in text)


def _deceives(character: str) -> bool:
    kind = unicodedata.category(character)
    return kind in {"Cc", "Cs", "Zl", "Zp"} or (kind == "Cf" and character not in _JOINERS)


def clean_stem(name: str) -> str:
    """A stem for film, proof and record that every desktop, share and printer takes.

    At most 120 bytes of UTF-8 plus, if something was cut, eight hexadecimal digits of a hash of
    the whole name.

    >>> clean_stem("poster.jpg"), clean_stem("-rf: a/b?.png"), clean_stem("con.png")
    ('poster', 'rf_ a_b_', 'con_')
    """
    text = unicodedata.normalize("NFC", os.fsencode(name).decode("utf-8", "replace"))
    stem = split_suffix(text)[0]
    stem = "".join("_" if _deceives(c) or c in _FORBIDDEN or c == "\ufffd" else c for c in stem)
    stem = stem.strip().lstrip(".-").strip().rstrip(". ")
    if _DEVICE.fullmatch(stem):
        stem += "_"
    if len(stem.encode()) > STEM_BYTES:
        mark = hashlib.sha256(os.fsencode(name)).hexdigest()[:8]
        stem = f"{cut(stem, STEM_BYTES).rstrip('. ')}-{mark}"
    return stem or "art"


def cut(text: str, size: int) -> str:
    """The longest beginning of `text` that takes at most `size` bytes in the file system."""
    while text and len(os.fsencode(text)) > size:
        text = text[:-1]
    return text


def numbered(name: str, count: int, *, room: int = 0) -> str:
    """`name` for count 1; else with -2, -3 … before the suffix; `room` bytes stay free at the end.

    >>> numbered("poster.jpg", 1), numbered("poster.jpg", 2)
    ('poster.jpg', 'poster-2.jpg')
    """
    stem, suffix = split_suffix(name)
    suffix = ("" if count == 1 else f"-{count}") + suffix
    return cut(stem, NAME_BYTES - room - len(os.fsencode(suffix))) + suffix


def first_free(free: Callable[[int], bool]) -> int:
    """The first number from 1 on for which `free` says yes, if all behind it are free too.

    The first few are tried one by one, the rest in steps that double and then halve: the
    ten-thousandth file of a name costs some thirty questions. Where numbers in the middle have
    become free again, any of them may be the answer.

    >>> first_free(lambda number: number > 3), first_free(lambda number: number > 9_999)
    (4, 10000)
    """
    for number in range(1, _ONE_BY_ONE + 1):
        if free(number):
            return number
    taken, number = _ONE_BY_ONE, 2 * _ONE_BY_ONE
    while not free(number):
        taken, number = number, 2 * number
    while number - taken > 1:
        middle = (taken + number) // 2
        taken, number = (taken, middle) if free(middle) else (middle, number)
    return number


def companion_name(art: str, kind: str) -> str:
    """The name under which a ticket or mask belongs to `art`."""
    return art + (TICKET_END if kind == "ticket" else MASK_END)


def compared(name: str) -> str:
    """What two names have in common if some file system holds them to be the same."""
    if name.isascii():
        return name.lower()
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).casefold())
