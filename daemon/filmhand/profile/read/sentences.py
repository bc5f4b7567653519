"""The sentences that tell a fault: what is allowed, what was found, and what was likely meant."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping, Sequence

from filmhand.mesh.table import MESH_KEYS
from filmhand.profile.read.curve import CurveError
from filmhand.profile.read.document import Path, Written, dotted, plain_data
from filmhand.profile.read.hints import key_hint, value_hint
from filmhand.profile.read.values import NotANumberError, NotAWordError

_REQUIRED = {
    "sheet": "the film's size, such as sheet: 8.5 x 11 in",
    "dpi": "what the printer lays down, such as dpi: 600",
    "lpi": "screen lines per inch, such as lpi: 25",
    "dot": "the dot shape, such as dot: round",
    "threshold": "for line art, such as threshold: 50",
    "mesh": "the screen's fabric, such as mesh: 43-80, or mesh: none",
    "margin": "what the printer cannot reach, such as margin: 0.25 in",
}


def sentence(path: Path, value: object, written: Written | None, fault: ValueError) -> str:
    """One sentence: the key, what is allowed, what was found, and a hint where one helps."""
    if isinstance(fault, CurveError):
        return f"{dotted(path)} {fault}"
    if path[:1] == ("notify",):  # what stands there may be a secret, in the wrong place
        return f"{dotted(path)} must be {fault}"
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


def unknown_key(path: Path, keys: Mapping[str, tuple[str, ...]], *, what: str) -> str:
    """The sentence for a key that nobody knows, with the nearest known spelling."""
    key, group = str(path[-1]), path[:-1]
    name = dotted(path)
    if re.fullmatch(r"\d+ *(?:in|mm|cm|pt|%)?", key):
        return (
            f"{name} is not a known key; a comma ends a setting here, and a decimal point is a "
            "full stop, as in 7.5 in"
        )
    outer, _, inner = key.partition(".")
    if inner and inner in keys_inside(keys, outer):
        return f"{name} is not a known key; write {outer}: {{{inner}: …}}"
    other = key_hint(path, keys, what=what)
    if other is not None:
        return other
    here = list(keys) if not group else list(keys_inside(keys, str(group[0])))
    beside = nearest(key, here)
    if beside:
        return f"{name} is not a known key; did you mean {dotted((*group, beside))}?"
    elsewhere = {name: f"{outer}.{name}" for outer in keys for name in keys_inside(keys, outer)}
    elsewhere |= {outer: outer for outer in keys}
    afar = nearest(key, list(elsewhere))
    if afar:
        target = elsewhere[afar]
        to = f"inside {target.partition('.')[0]}" if "." in target else "at the top level"
        return f"{name} is not a known key; did you mean {target}, which belongs {to}?"
    where = f"inside {dotted(group)}" if group else f"in a {what}"
    return f"{name} is not a known key; {where} stand {', '.join(here)}"


def keys_inside(keys: Mapping[str, tuple[str, ...]], group: str) -> tuple[str, ...]:
    """The keys that may stand in a group."""
    return MESH_KEYS if group == "mesh" else keys.get(group, ())


def missing_key(key: str, reason: str = "") -> str:
    """The sentence for a required key that is not there, ``reason`` being why it is required."""
    why = f" {reason}" if reason else ""
    return f"{key} is missing; it is required{why}: {_REQUIRED[key]}"


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
