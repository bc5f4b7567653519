"""The sentences that tell a fault: what is allowed, what was found, and what was likely meant."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from filmhand.mesh.table import MESH_KEYS
from filmhand.profile.profile_words import Allowed
from filmhand.profile.read.curve import CurveError
from filmhand.profile.read.document import Path, Written, dotted, plain_data
from filmhand.profile.read.hints import UnknownKey, key_hint, value_hint
from filmhand.profile.read.read_words import FileKind, HintWord, KeyFault, KeyUse, ValueFault
from filmhand.profile.read.values import NotANumberError, NotAWordError
from filmhand.profile.terms import Treat
from filmhand.units import PixelsPerInch, finest_lpi

_USES = {
    "sheet": KeyUse.SHEET,
    "dpi": KeyUse.DPI,
    "lpi": KeyUse.LPI,
    "dot": KeyUse.DOT,
    "threshold": KeyUse.THRESHOLD,
    "mesh": KeyUse.MESH,
    "margin": KeyUse.MARGIN,
}

_UNIT_OF_KEY = {"dpi": "dpi|ppi", "mesh": "mesh|threads?|tpi|t/in|threads (?:per|an) inch"}
"""What people write behind the number of a key that has none."""


def sentence(path: Path, value: object, written: Written | None, fault: ValueError) -> str:
    """One sentence: the key, what is allowed, what was found, and a hint where one helps."""
    key = dotted(path)
    if isinstance(fault, CurveError):
        return ValueFault.OF_CURVE.say(key=key, fault=fault)
    if path[:1] == ("notify",):  # what stands there may be a secret, in the wrong place
        return ValueFault.MUST_BE.say(key=key, allowed=fault)
    found = _found(value, written)
    hint = value_hint(path, value) or _hint(path, value, written, fault)
    said = ValueFault.MUST_BE_NOT_HINT if hint else ValueFault.MUST_BE_NOT
    return said.say(key=key, allowed=fault, found=found, hint=hint)


def allowed_lpi(dpi: PixelsPerInch, on_film: PixelsPerInch) -> str:
    """Which rulings a printer can draw; ``on_film`` is the ``dpi`` as ``print.scale`` has it."""
    said = Allowed.LPI if on_film == dpi else Allowed.LPI_SCALED
    return said.say(highest=f"{finest_lpi(on_film):g}", dpi=on_film)


def _found(value: object, written: Written | None) -> str:
    if value is None and (written is None or not written.text):
        return ValueFault.LEFT_EMPTY.say()
    if isinstance(value, dict):
        return ValueFault.GROUP.say()
    if isinstance(value, list):
        return ValueFault.LIST.say(list=_short(_flow(value)))
    text = written.text if written is not None else str(value)
    text = _short(re.sub(r"\s+", " ", text))
    return f"'{text}'" if isinstance(value, str) else text


def _flow(value: object) -> str:
    if isinstance(value, list):
        return f"[{', '.join(_flow(item) for item in value[:8])}{', …' if value[8:] else ''}]"
    return "{…}" if isinstance(value, dict) else re.sub(r"\s+", " ", str(value))


def _short(text: str) -> str:
    return text if len(text) <= 60 else f"{text[:57]}…"


def _hint(path: Path, value: object, written: Written | None, fault: ValueError) -> str:
    meant = _fit_meant(value) if path[-1:] == ("fit",) else ""
    if isinstance(fault, NotAWordError) and not meant:
        words = value if isinstance(value, list) else [value]
        strange = [word for word in words if isinstance(word, str) and word not in fault.words]
        near = nearest(strange[0], fault.words) if strange else None
        return HintWord.MEANT.say(word=near) if near else ""
    if meant or not isinstance(value, str):
        return meant
    if re.search(r"\d,\d", value):
        point = re.sub(r"(\d),(\d)", r"\1.\2", value)
        return HintWord.POINT.say(written=_short(point))
    if written is not None and written.quoted and isinstance(plain_data(value), int | float):
        return HintWord.NO_QUOTES.say()
    alone = _number_alone(path, value, fault)
    return HintWord.NUMBER_ALONE.say(written=alone) if alone else ""


def _number_alone(path: Path, value: str, fault: ValueError) -> str:
    """The number of a key that has no unit, where one is written behind it."""
    unit = _UNIT_OF_KEY.get(str(path[-1]))
    found = unit and re.fullmatch(rf"(\d[\dx× ]*?) ?(?:{unit})", value.strip(), re.IGNORECASE)
    if isinstance(fault, NotANumberError):
        found = re.match(r"\s*([-+]?\d+(?:\.\d+)?)\s*\D", value)
    return found[1] if found else ""


def _fit_meant(value: object) -> str:
    """What was most likely meant by a size of the art that cannot be read."""
    text = re.sub(r"(\d),(\d)", r"\1.\2", str(value)).strip()
    text = re.sub(r"(\d) *(?:\"|''|\u201d|\u2033|inch(?:es)?\b)", r"\1 in", text)
    sized = re.fullmatch(r"(?:(width|height) *)?(\d+(?:\.\d+)?|\.\d+)( *(?:in|mm|cm))?", text)
    if sized is None:
        return ""
    side, size, unit = sized[1] or "width", sized[2], sized[3]
    if not unit:
        return HintWord.SIZE_UNIT.say(written=f"{side} {size} in")
    meant = f"{side} {size} {unit.strip()}"
    return HintWord.MEANT.say(word=meant) if meant != str(value).strip() else ""


def unknown_key(path: Path, keys: Mapping[str, tuple[str, ...]], *, kind: FileKind) -> UnknownKey:
    """What is said of a key that nobody knows, with the nearest known spelling."""
    key = str(path[-1])
    outer, _, inner = key.partition(".")
    if re.fullmatch(r"\d+ *(?:in|mm|cm|pt|%)?", key):
        hint = HintWord.COMMA.say()
    elif inner and inner in keys_inside(keys, outer):
        hint = HintWord.WRITE.say(written=f"{outer}: {{{inner}: …}}")
    else:
        return key_hint(path, keys, kind=kind) or _nearest_key(path, keys, kind)
    return UnknownKey(KeyFault.UNKNOWN.say(key=dotted(path), hint=hint))


def _nearest_key(path: Path, keys: Mapping[str, tuple[str, ...]], kind: FileKind) -> UnknownKey:
    key, group = str(path[-1]), path[:-1]
    here = list(keys) if not group else list(keys_inside(keys, str(group[0])))
    elsewhere = {name: f"{outer}.{name}" for outer in keys for name in keys_inside(keys, outer)}
    elsewhere |= {outer: outer for outer in keys}
    meant = None
    if beside := nearest(key, here):
        meant = dotted((*group, beside))
        hint = HintWord.MEANT.say(word=meant)
    elif afar := nearest(key, list(elsewhere)):
        to, _, inside = elsewhere[afar].partition(".")
        said = HintWord.MEANT_INSIDE if inside else HintWord.MEANT_AT_TOP
        hint = said.say(word=elsewhere[afar], group=to)
    else:
        said = HintWord.KEYS_INSIDE if group else kind.keys
        hint = said.say(group=dotted(group), keys=", ".join(here))
    return UnknownKey(KeyFault.UNKNOWN.say(key=dotted(path), hint=hint), meant)


def keys_inside(keys: Mapping[str, tuple[str, ...]], group: str) -> tuple[str, ...]:
    """The keys that may stand in a group."""
    return MESH_KEYS if group == "mesh" else keys.get(group, ())


def missing_key(key: str, treat: Treat | None = None) -> str:
    """The sentence for a required key that is not there.

    ``treat`` is how art is treated, where the key is required for that.
    """
    said = KeyFault.MISSING
    if treat is not None:
        said = KeyFault.MISSING_FOR_LINE if key == "threshold" else KeyFault.MISSING_FOR_TONE
    return said.say(key=key, treat=treat, use=_USES[key].say())


def nearest(word: str, words: Sequence[str]) -> str | None:
    """The known word that was most likely meant, or None rather than a far-fetched one."""
    folded = {re.sub(r"[\s_-]", "", known).lower(): known for known in words}
    typed = re.sub(r"[\s_-]", "", word).lower()[:60]
    import difflib  # noqa: PLC0415 - only for what is not known

    close = difflib.get_close_matches(typed, folded, n=1, cutoff=0.7)
    # The ratio of difflib is harsh on the shortest words: lip and lpy for lpi have 0.67.
    slips = [known for known in folded if _one_slip(typed, known)]
    for known in [*close, *slips]:
        return folded[known]
    return None


def _one_slip(typed: str, known: str) -> bool:
    if len(typed) != len(known):
        return False
    swapped = sorted(typed) == sorted(known)
    return swapped or sum(a != b for a, b in zip(typed, known, strict=True)) == 1
