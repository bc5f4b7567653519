"""The sentences that tell a fault: what is allowed, what was found, and what was likely meant."""

from __future__ import annotations

import difflib
import re
from collections.abc import Sequence

from filmhand.profile.read.curve import CurveError
from filmhand.profile.read.document import Path, Written, dotted, plain_data
from filmhand.profile.read.hints import value_hint
from filmhand.profile.read.values import NotANumberError, NotAWordError


def sentence(path: Path, value: object, written: Written | None, fault: ValueError) -> str:
    """One sentence: the key, what is allowed, what was found, and a hint where one helps."""
    if isinstance(fault, CurveError):
        return f"{dotted(path)} {fault}"
    found = _found(value, written)
    known = value_hint(path, value)
    hint = f"; {known}" if known is not None else _hint(path, value, written, fault)
    return f"{dotted(path)} must be {fault}, not {found}{hint}"


def _found(value: object, written: Written | None) -> str:
    if value is None and (written is None or not written.text):
        return "left empty"
    if isinstance(value, dict):
        return "a group of settings"
    if isinstance(value, list):
        return f"the list {_short(_flow(value))}"
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
        return f"; did you mean {near}?" if near else ""
    if meant or not isinstance(value, str):
        return meant
    if re.search(r"\d,\d", value):
        point = re.sub(r"(\d),(\d)", r"\1.\2", value)
        return f"; a decimal point is a full stop: {_short(point)}"
    if written is not None and written.quoted and isinstance(plain_data(value), int | float):
        return "; take the quotes away"
    leading = re.match(r"\s*([-+]?\d+(?:\.\d+)?)\s*\D", value)
    if isinstance(fault, NotANumberError) and leading:
        return f"; write the number alone: {leading[1]}"
    return ""


def _fit_meant(value: object) -> str:
    """What was most likely meant by a size of the art that cannot be read."""
    text = re.sub(r"(\d),(\d)", r"\1.\2", str(value)).strip()
    text = re.sub(r"(\d) *(?:\"|''|\u201d|\u2033|inch(?:es)?\b)", r"\1 in", text)
    sized = re.fullmatch(r"(?:(width|height) *)?(\d+(?:\.\d+)?|\.\d+)( *(?:in|mm|cm))?", text)
    if sized is None:
        return ""
    side, size, unit = sized[1] or "width", sized[2], sized[3]
    if not unit:
        return f"; say the unit as well, such as {side} {size} in"
    meant = f"{side} {size} {unit.strip()}"
    return f"; did you mean {meant}?" if meant != str(value).strip() else ""


def nearest(word: str, words: Sequence[str]) -> str | None:
    """The known word that was most likely meant, or None rather than a far-fetched one."""
    folded = {re.sub(r"[\s_-]", "", known).lower(): known for known in words}
    typed = re.sub(r"[\s_-]", "", word).lower()[:60]
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
