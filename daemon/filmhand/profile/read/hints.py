"""What people write in place of a key or a word that is known here, and what to tell them."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Final

HINTS: Final[Mapping[str, str]] = {
    # Keys of the first profiles, by their place.
    "tone.stretch": "is now tone.endpoints",
    "tone.range": "is now tone.contrast",
    "tone.lift": "is now tone.midtone",
    "tone.clear": "is now tone.dropout",
    "trial.range": "is now trial.contrast",
    "trial.lift": "is now trial.midtone",
    "limits.beat": "is now limits.moire",
    "verdict.hole": "is now verdict.shadow_dot",
    "verdict.beat": "is now verdict.moire",
    **dict.fromkeys(
        ("verdict.beat_cells", "verdict.moire_cells"),
        "is gone: verdict.moire goes by how well bands are seen, {warn: 0.02, fail: 0.1}",
    ),
    "press.gap": "is now press.film_gap",
    "press.light": "is now press.light_angle",
    "press.spread": "is now press.ink_spread",
    # Keys as people and the trade call them, wherever they stand.
    "paper": "did you mean sheet?",
    "resolution": "did you mean dpi?",
    "screen": "write the screen as lpi: 25, angle: 45 and dot: round",
    "frequency": "did you mean lpi?",
    "ruling": "did you mean lpi?",
    **dict.fromkeys(("width", "size"), "write art: {fit: width 7 in}"),
    "height": "write art: {fit: height 9 in}",
    **dict.fromkeys(("contrast", "range"), "write tone: {contrast: 1.2}, where 1 leaves it"),
    "brightness": "write tone: {midtone: -5}, where less than 0 is brighter",
    "lift": "write tone: {midtone: 5}, where 0 leaves it",
    **dict.fromkeys(("stretch", "levels"), "write tone: {endpoints: auto}"),
    "clear": "write tone: {dropout: 5}, the tone up to which film stays clear",
    **dict.fromkeys(
        ("highlight", "highlights", "shadow", "shadows"),
        "write tone: {hold: [8, 92]}, the smallest and the largest tone",
    ),
    "beat": "write limits: {moire: refuse}",
    "quantity": "write copies: 2",
    # Words of one key.
    **dict.fromkeys(("dot: oval", "dot: elliptical", "dot: elliptic"), "did you mean ellipse?"),
    "sheet: legal": "write 8.5 x 14 in",
    "sheet: ledger": "write 17 x 11 in",
    "sheet: a2": "write 420 x 594 mm",
    "art.place: middle": "did you mean center?",
    "art.channel: gray": "did you mean luminance?",
    "art.treat: halftone": "did you mean tone?",
}
"""By key or by ``key: word``: what is said of it, American and in lower case."""

_UNITS: Final[Mapping[str, str]] = {
    **dict.fromkeys(("margin", "art.gap", "art.overlap"), "mm"),
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


def key_hint(path: Sequence[str | int], keys: Mapping[str, object], *, what: str) -> str | None:
    """The sentence for a key that has another name here; None where nothing is known of it.

    Parameters
    ----------
    keys : what may stand at the top level of this file
    what : the kind of file, ``profile`` or ``ticket``
    """
    name = ".".join(map(str, path))
    folded = american(name).lower()
    hint = HINTS.get(folded) or HINTS.get(folded.rpartition(".")[2])
    if hint is None:
        return None
    if hint.startswith("is "):
        return f"{name} {hint}"
    known = re.search(r"(?:write(?: the screen as)?|mean) (\w+)", hint)
    if known and known[1] not in keys:
        place = "the profile" if what == "ticket" else "a ticket"
        hint = f"that is {known[1]}, which belongs in {place}"
    return f"{name} is not a known key; {hint}"


def value_hint(path: Sequence[str | int], value: object) -> str | None:
    """What was most likely meant by a value that cannot be read; None where nothing is known."""
    key = ".".join(part for part in path if isinstance(part, str)).removeprefix("trial.")
    if isinstance(value, str):
        word, _, rest = american(value).strip().partition(" ")
        hint = HINTS.get(f"{key}: {word.lower()}")
        if hint is not None:
            return hint.replace("?", f" {rest}?") if rest else hint
    if key == "sheet":
        return _sheet_unit(str(value))
    if key in {"verdict.moire.warn", "verdict.moire.fail"} and isinstance(value, str):
        return "moire goes by how well bands are seen, a share without a unit, and not by a length"
    unit = _UNITS.get(key)
    items = value if isinstance(value, list) else re.split(r"[\s,]+", str(value).strip())
    if unit is None or not all(re.fullmatch(_NUMBER, str(item)) for item in items) or not items:
        return None
    if unit == "mm" and all(float(item) < 1 for item in items) and any(map(float, items)):
        unit = "in"
    return "the unit is missing: " + ", ".join(f"{item} {unit}" for item in items)


def _sheet_unit(text: str) -> str | None:
    sides = re.fullmatch(rf"\s*({_NUMBER})\s*[x×]\s*({_NUMBER})\s*", text)
    if sides is None:
        return None
    unit = "in" if max(float(sides[1]), float(sides[2])) <= _LARGEST_SHEET_IN else "mm"
    return f"the unit is missing: {sides[1]} x {sides[2]} {unit}"
