"""What people write in place of a key or a word that is known here, and what to tell them."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

from filmhand.profile.read.read_words import FileKind, HintWord, KeyFault
from filmhand.values import dataclass


@dataclass(frozen=True, slots=True)
class Hint:
    """What to tell of a word: the known key or word that is meant by it, or how it is written."""

    row: HintWord
    word: str
    written: str = ""

    def say(self) -> str:
        """The hint in the language in force."""
        return self.row.say(word=self.word, written=self.written)


FORMER: Final[Mapping[str, str]] = {
    "tone.stretch": "tone.endpoints",
    "tone.range": "tone.contrast",
    "tone.lift": "tone.midtone",
    "tone.clear": "tone.dropout",
    "trial.range": "trial.contrast",
    "trial.lift": "trial.midtone",
    "limits.beat": "limits.moire",
    "verdict.hole": "verdict.shadow_dot",
    "verdict.beat": "verdict.moire",
    "press.gap": "press.film_gap",
    "press.light": "press.light_angle",
    "press.spread": "press.ink_spread",
}
"""Keys of the first profiles, and what they are now."""
_GONE = {"verdict.beat_cells", "verdict.moire_cells"}
_FIT_WIDTH = Hint(HintWord.WRITE, "art", "art: {fit: width 7 in}")
_CONTRAST = Hint(HintWord.CONTRAST, "tone")
_ENDPOINTS = Hint(HintWord.WRITE, "tone", "tone: {endpoints: auto}")
_ELLIPSE = Hint(HintWord.MEANT, "ellipse")

HINTS: Final[Mapping[str, Hint]] = {
    # Keys as people and the trade call them, wherever they stand.
    "paper": Hint(HintWord.MEANT, "sheet"),
    "resolution": Hint(HintWord.MEANT, "dpi"),
    "screen": Hint(HintWord.SCREEN, "lpi"),
    "frequency": Hint(HintWord.MEANT, "lpi"),
    "ruling": Hint(HintWord.MEANT, "lpi"),
    **dict.fromkeys(("width", "size"), _FIT_WIDTH),
    "height": Hint(HintWord.WRITE, "art", "art: {fit: height 9 in}"),
    **dict.fromkeys(("contrast", "range"), _CONTRAST),
    "brightness": Hint(HintWord.BRIGHTNESS, "tone"),
    "lift": Hint(HintWord.LIFT, "tone"),
    **dict.fromkeys(("stretch", "levels"), _ENDPOINTS),
    "clear": Hint(HintWord.CLEAR, "tone"),
    **dict.fromkeys(("highlight", "highlights", "shadow", "shadows"), Hint(HintWord.ENDS, "tone")),
    "beat": Hint(HintWord.WRITE, "limits", "limits: {moire: refuse}"),
    **dict.fromkeys(("colors", "spots"), Hint(HintWord.MEANT, "inks")),
    **dict.fromkeys(("shirt", "garment", "textile", "substrate"), Hint(HintWord.MEANT, "cloth")),
    **dict.fromkeys(("separation", "separations"), Hint(HintWord.MEANT, "separate")),
    "trapping": Hint(HintWord.MEANT, "trap"),
    "choke": Hint(HintWord.MEANT, "underbase"),
    **dict.fromkeys(("gcr", "ucr"), Hint(HintWord.MEANT, "black_generation")),
    **dict.fromkeys(("output_profile", "press_profile"), Hint(HintWord.MEANT, "icc")),
    **dict.fromkeys(("tac", "ink_limit"), Hint(HintWord.MEANT, "total_ink")),
    "quantity": Hint(HintWord.WRITE, "copies", "copies: 2"),
    # Words of one key.
    **dict.fromkeys(("dot: oval", "dot: elliptical", "dot: elliptic"), _ELLIPSE),
    "sheet: legal": Hint(HintWord.WRITE, "", "8.5 x 14 in"),
    "sheet: ledger": Hint(HintWord.WRITE, "", "17 x 11 in"),
    "sheet: a2": Hint(HintWord.WRITE, "", "420 x 594 mm"),
    "art.place: middle": Hint(HintWord.MEANT, "center"),
    "art.channel: gray": Hint(HintWord.MEANT, "luminance"),
    "inks: cmyk": Hint(HintWord.MEANT, "process"),
    "separate: flat": Hint(HintWord.MEANT, "spot"),
    "art.treat: halftone": Hint(HintWord.MEANT, "tone"),
}
"""By key or by ``key: word``: what is said of it, American and in lower case."""

_UNITS: Final[Mapping[str, str]] = {
    **dict.fromkeys(("margin", "art.gap", "art.overlap", "trap", "underbase.choke"), "mm"),
    "verdict.moire.distance": "m",
    **dict.fromkeys(("press.film_gap", "press.ink_spread", "press.ink_passage"), "um"),
    **dict.fromkeys(("mesh.thread", "mesh.opening", "mesh.thickness"), "um"),
    **{
        f"verdict.{size}.{limit}": "um"
        for size in ("dot", "shadow_dot", "stroke", "gap")
        for limit in ("fail", "warn")
    },
    "settle": "s",
    **dict.fromkeys(("takeover", "gang"), "min"),
    **dict.fromkeys(("keep.films", "keep.proofs", "keep.records", "keep.originals"), "days"),
    "limits.memory": "GiB",
}
"""The unit that a bare number most likely has."""
_LARGEST_SHEET_IN = 60
_NUMBER = r"\d+(?:\.\d+)?|\.\d+"
_BRITISH = {"centre": "center", "colour": "color", "grey": "gray", "metre": "meter"}


def american(text: str) -> str:
    """The text with the words that British spelling writes otherwise in American.

    >>> american("top-centre"), american("Grey")
    ('top-center', 'Gray')
    """

    def spelled(found: re.Match[str]) -> str:
        word = _BRITISH[found[0].lower()]
        return word.capitalize() if found[0][0].isupper() else word

    return re.sub("|".join(_BRITISH), spelled, text, flags=re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class UnknownKey:
    """What is said of a key that is not known, and the key that it was most likely meant as."""

    message: str
    meant: str | None = None


def key_hint(
    path: Sequence[str | int], keys: Mapping[str, Sequence[str]], *, kind: FileKind
) -> UnknownKey | None:
    """What is said of a key that has another name here; None where nothing is known of it.

    ``keys`` are those that may stand at the top level of this file, with those inside each.
    """
    name = ".".join(map(str, path))
    folded = american(name).lower()
    if folded in FORMER:
        return UnknownKey(KeyFault.FORMER.say(key=name, now=FORMER[folded]))
    if folded in _GONE:
        return UnknownKey(KeyFault.CELLS_GONE.say(key=name))
    hint = HINTS.get(folded) or HINTS.get(folded.rpartition(".")[2])
    if hint is None:
        return None
    if hint.word not in keys:
        hint = replace(hint, row=kind.elsewhere)
    elif hint.row is HintWord.MEANT and hint.word in keys.get(str(path[0]), ()):
        hint = replace(hint, word=f"{path[0]}.{hint.word}")
    meant = hint.word if hint.row is HintWord.MEANT else None
    return UnknownKey(KeyFault.UNKNOWN.say(key=name, hint=hint.say()), meant)


def value_hint(path: Sequence[str | int], value: object) -> str | None:
    """What was most likely meant by a value that cannot be read; None where nothing is known."""
    key = ".".join(part for part in path if isinstance(part, str)).removeprefix("trial.")
    if isinstance(value, str):
        word, _, rest = american(value).strip().partition(" ")
        hint = HINTS.get(f"{key}: {word.lower()}")
        if hint is not None:
            return replace(hint, word=f"{hint.word} {rest}".strip()).say()
    if key == "sheet":
        return _sheet_unit(str(value))
    if key in {"verdict.moire.warn", "verdict.moire.fail"} and isinstance(value, str):
        return HintWord.MOIRE_SHARE.say()
    unit = _UNITS.get(key)
    items = value if isinstance(value, list) else re.split(r"[\s,]+", str(value).strip())
    if unit is None or not all(re.fullmatch(_NUMBER, str(item)) for item in items) or not items:
        return None
    if unit == "mm" and all(float(item) < 1 for item in items) and any(map(float, items)):
        unit = "in"
    return HintWord.UNIT.say(written=", ".join(f"{item} {unit}" for item in items))


def _sheet_unit(text: str) -> str | None:
    sides = re.fullmatch(rf"\s*({_NUMBER})\s*[x×]\s*({_NUMBER})\s*", text)
    if sides is None:
        return None
    unit = "in" if max(float(sides[1]), float(sides[2])) <= _LARGEST_SHEET_IN else "mm"
    return HintWord.UNIT.say(written=f"{sides[1]} x {sides[2]} {unit}")
