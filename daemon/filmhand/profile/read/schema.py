"""Plain data against the model: every fault as a sentence, with the path of its key."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import MISSING, field, fields
from functools import cache
from math import ceil, floor
from typing import Annotated, Any, cast, get_origin, get_type_hints

from filmhand.language import or_list
from filmhand.mesh.table import MeshError
from filmhand.profile.inks import (
    BLACK_GENERATION,
    MOST_INKS_OF_SET,
    WHITE_CLOTH,
    InkChoice,
    InkWishes,
    Separate,
    Underbase,
    ink_key,
)
from filmhand.profile.model import ArtWishes, Group, Marks, Settings
from filmhand.profile.printing import PrintWishes
from filmhand.profile.read.curve import ReadCurve
from filmhand.profile.read.document import Path, Plain, Written, dotted
from filmhand.profile.read.read_words import FileKind, HintWord, KeyFault, TogetherFault, ValueFault
from filmhand.profile.read.sentences import (
    allowed_lpi,
    keys_inside,
    missing_key,
    nearest,
    sentence,
    unknown_key,
)
from filmhand.profile.read.values import FaultsWithin, NeedsCurves, PartsError
from filmhand.profile.terms import Automatic, Channel, Margin, Repeat, Treat, Turn
from filmhand.units import Resolution, SheetSize, finest_lpi, length_text, size_text
from filmhand.values import dataclass

SMALLEST_AREA_MM = 10.0
"""Less than this inside the margins is no sheet."""


@dataclass(frozen=True, slots=True)
class SettingFault:
    """A fault by the path of its key.

    ``missing`` tells that the key itself is not there, ``meant`` which one a misspelled key is,
    ``fitting`` the nearest value that would be right.
    """

    path: Path
    message: str
    missing: bool = False
    meant: str | None = None
    fitting: str | None = None

    @classmethod
    def of(
        cls, path: Path, value: object, written: Mapping[Path, Written], fault: ValueError
    ) -> SettingFault:
        """A value that its reader does not take."""
        return cls(path, sentence(path, value, written.get(path), fault))

    @classmethod
    def of_key(
        cls, path: Path, keys: Mapping[str, tuple[str, ...]], kind: FileKind
    ) -> SettingFault:
        """A key that is not known."""
        unknown = unknown_key(path, keys, kind=kind)
        return cls(path, unknown.message, meant=unknown.meant)


@dataclass(slots=True)
class SettingsRead:
    """The settings, or None with the troubles that prevented them."""

    settings: Settings | None
    troubles: list[SettingFault] = field(default_factory=list)


@cache
def _hints(group: type[Any]) -> dict[str, Any]:
    """What is annotated to each key of a group: another group, or a type with its reader."""
    return get_type_hints(group, include_extras=True)


def _is_group(hint: object) -> bool:
    return isinstance(hint, type) and issubclass(hint, Group)


KEYS: Mapping[str, tuple[str, ...]] = {
    key: tuple(_hints(hint)) if _is_group(hint) else () for key, hint in _hints(Settings).items()
}
"""Every key of a profile with the keys inside it."""


def reader_of(path: Path) -> Callable[[object], Any]:
    """The reader of one setting's value, such as that of ``("tone", "contrast")``."""
    group: Any = Settings
    for key in path[:-1]:
        group = _hints(group)[str(key)]
    (reader,) = _hints(group)[str(path[-1])].__metadata__
    return cast("Callable[[object], Any]", reader)


def check_settings(
    data: Mapping[str, Plain], *, read_curve: ReadCurve | None, written: Mapping[Path, Written]
) -> SettingsRead:
    """The settings that the data give, or all that is wrong with them."""
    known, troubles = _known(data)
    reading = _Reading(read_curve, written)
    values = reading.group(Settings, known, ())
    troubles += reading.troubles
    art = values.get("art", ArtWishes())
    troubles += _missing_for_treatment(known, art.treat)
    troubles = [t for t in troubles if not (t.missing and _meant_by_misspelling(t, troubles))]
    troubles += _impossible_pairs(values, art)
    return SettingsRead(None if troubles else Settings(**values), troubles)


def _known(data: Mapping[str, Plain]) -> tuple[dict[str, Plain], list[SettingFault]]:
    """The data without unknown keys and with empty groups filled, and the troubles."""
    known: dict[str, Plain] = {}
    troubles: list[SettingFault] = []
    for key, given in data.items():
        if key not in KEYS:
            troubles.append(SettingFault.of_key((key,), KEYS, FileKind.PROFILE))
            continue
        # A group with all its lines commented out is null, and means nothing but its defaults.
        value: Plain = {} if KEYS[key] and given is None else given
        known[key], unknown = take_unknown(key, value, KEYS, FileKind.PROFILE)
        troubles += unknown
    return known, troubles


def take_unknown(
    key: str, value: Plain, keys: Mapping[str, tuple[str, ...]], kind: FileKind
) -> tuple[Plain, list[SettingFault]]:
    """A setting without the keys that do not belong in its group, and a trouble for each."""
    inner = keys_inside(keys, key)
    if not inner or not isinstance(value, dict):
        return value, []
    strange: list[Path] = [(key, name) for name in value if name not in inner]
    kept = {name: item for name, item in value.items() if name in inner}
    return kept, [SettingFault.of_key(path, keys, kind) for path in strange]


@dataclass(slots=True)
class _Reading:
    """Reads groups of settings and gathers what is wrong with them."""

    read_curve: ReadCurve | None
    written: Mapping[Path, Written]
    troubles: list[SettingFault] = field(default_factory=list)

    def group(self, kind: type[Group], data: Mapping[str, Plain], at: Path) -> dict[str, Any]:
        """The values of a group; keys that are absent or faulty are left out."""
        values: dict[str, Any] = {}
        model: Any = kind
        hints = _hints(model)
        for setting in fields(model):
            path: Path = (*at, setting.name)
            if setting.name not in data:
                if setting.default is MISSING:
                    self.troubles.append(
                        SettingFault(path, missing_key(setting.name), missing=True)
                    )
                continue
            given, hint = data[setting.name], hints[setting.name]
            if not _is_group(hint):
                self._value(hint, given, path, values)
            elif isinstance(given, dict):
                values[setting.name] = hint(**self.group(hint, given, path))
            else:
                allowed = ValueFault.GROUP_WITH.say(keys=or_list(KEYS[setting.name]))
                self._wrong(path, given, ValueError(allowed))
        return values

    def _value(self, hint: Any, given: Plain, path: Path, values: dict[str, Any]) -> None:
        assert get_origin(hint) is Annotated
        (reader,) = hint.__metadata__
        try:
            if isinstance(reader, NeedsCurves):
                value = reader.read(given, self.read_curve)
            else:
                value = reader(given)
        except ValueError as fault:
            self._faulty(path, given, fault)
        else:
            values[str(path[-1])] = value

    def _faulty(self, path: Path, given: Any, fault: ValueError) -> None:
        """A fault at its place, or each of those that it holds at theirs."""
        match fault:
            case MeshError():
                self._wrong_mesh(path, given, fault)
            case PartsError():
                self._wrong_parts(path, given, fault)
            case FaultsWithin():
                for inner, found, one in fault.faults:
                    self._faulty((*path, *inner), found, one)
            case _:
                self._wrong(path, given, fault)

    def _wrong(self, path: Path, given: Plain, fault: ValueError) -> None:
        self.troubles.append(SettingFault.of(path, given, self.written, fault))

    def _wrong_mesh(self, path: Path, given: Mapping[str, Plain], fault: MeshError) -> None:
        for key, phrase in fault.parts:
            part: Path = (*path, key)
            if key in given:
                self._wrong(part, given[key], ValueError(phrase))
            else:
                message = ValueFault.MUST_BE.say(key=dotted(part), allowed=phrase)
                self.troubles.append(SettingFault(part, message))

    def _wrong_parts(self, path: Path, given: Mapping[str, Plain], fault: PartsError) -> None:
        for key in fault.strange:
            beside = nearest(key, fault.keys)
            if beside:
                hint = HintWord.MEANT.say(word=dotted((*path, beside)))
            else:
                hint = HintWord.KEYS_INSIDE.say(group=dotted(path), keys=", ".join(fault.keys))
            message = KeyFault.UNKNOWN.say(key=dotted((*path, key)), hint=hint)
            self.troubles.append(SettingFault((*path, key), message))
        for key, phrase in fault.parts:
            self._wrong((*path, key), given[key], ValueError(phrase))


def _missing_for_treatment(data: Mapping[str, Plain], treat: Treat) -> Iterator[SettingFault]:
    for key, never in (("lpi", Treat.LINE), ("dot", Treat.LINE), ("threshold", Treat.TONE)):
        if key not in data and treat is not never:
            yield SettingFault((key,), missing_key(key, treat), missing=True)


def _meant_by_misspelling(trouble: SettingFault, troubles: list[SettingFault]) -> bool:
    """A misspelled key is one fault, not also a missing key."""
    return any(other.meant == dotted(trouble.path) for other in troubles)


def _impossible_pairs(values: Mapping[str, Any], art: ArtWishes) -> Iterator[SettingFault]:
    """Values that are right for themselves and not together; what is faulty is left out."""
    dpi: Resolution | None = values.get("dpi")
    lpi: float | None = values.get("lpi")
    printing: PrintWishes | None = values.get("print")
    scale = (1.0, 1.0) if printing is None else printing.scale
    if dpi is not None and lpi is not None:
        on_film = dpi.scaled(*scale)
        if lpi > finest_lpi(on_film):
            allowed = allowed_lpi(dpi, on_film)
            said = ValueFault.MUST_BE_NOT.say(key="lpi", allowed=allowed, found=f"{lpi:g}")
            yield SettingFault(("lpi",), said, fitting=f"{finest_lpi(on_film):g}")
    yield from _impossible_inks(values, art)
    sheet: SheetSize | None = values.get("sheet")
    if values.get("gang") is not None and art.fit.kind == "page":
        yield SettingFault(("gang",), TogetherFault.GANG.say(width=_example_width(sheet)))
    margin: Margin | None = values.get("margin")
    if sheet is None or margin is None:
        return
    width = sheet.mm[0] * scale[0] - margin.left - margin.right
    height = sheet.mm[1] * scale[1] - margin.top - margin.bottom
    if min(width, height) < SMALLEST_AREA_MM:
        least = (SMALLEST_AREA_MM, SMALLEST_AREA_MM)
        said = TogetherFault.MARGIN.say(
            sheet=size_text(sheet.mm, sheet, decimals=1),
            left=size_text((max(width, 0), max(height, 0)), sheet, decimals=1, cut=floor),
            needed=size_text(least, sheet, cut=ceil),
        )
        yield SettingFault(("margin",), said)
        return
    yield from _impossible_layout(art, sheet)
    fit = art.fit
    if fit.mm is not None and fit.kind != "inside" and art.tile is Automatic.OFF:
        upright = width if fit.kind == "width" else height
        room = max(width, height) if art.turn is Turn.AUTO else upright
        if fit.mm > room + 0.005:
            row = _TOO_LONG[fit.kind == "width", room > upright]
            largest = length_text(room, sheet, decimals=1, cut=floor)
            said = row.say(room=largest, found=length_text(fit.mm, sheet, decimals=1, cut=ceil))
            fitting = f"{fit.kind} {largest.partition(' (')[0]}"
            yield SettingFault(("art", "fit"), said, fitting=fitting)


OF_INKS: dict[str, object] = {
    "separate": Separate.AUTO,
    "cloth": WHITE_CLOTH,
    "underbase": None,
    "trap": 0.0,
    "total_ink": None,
    "black_generation": BLACK_GENERATION,
    "icc": None,
}
"""Keys that mean nothing without inks, and what each says where it is left out."""


def without_inks(values: Mapping[str, Any]) -> Iterator[SettingFault]:
    """A fault for each of these settings that means nothing without inks."""
    for key, silent in OF_INKS.items():
        if values.get(key, silent) != silent:
            yield SettingFault((key,), TogetherFault.WITHOUT_INKS.say(key=key))


def _impossible_inks(values: Mapping[str, Any], art: ArtWishes) -> Iterator[SettingFault]:
    """What cannot be together with inks, or without them."""
    inks: InkWishes | None = values.get("inks")
    below: Underbase | None = values.get("underbase")
    if inks is None:
        # The others tell of the shop, and wait for a ticket that asks for inks.
        waits_for = ("underbase", "icc")
        yield from without_inks({key: values[key] for key in waits_for if key in values})
        return
    yield from _with_inks(values, art)
    names = [ink_key(ink.name) for ink in inks.listed]
    base = None if below is None else ink_key(below.ink)
    if base in names[1:]:
        assert below is not None
        said = TogetherFault.UNDERBASE_FIRST.say(found=below.ink)
        yield SettingFault(("underbase", "ink"), said)
    count = len(names) + inks.count + (base is not None and base not in names)
    if count > MOST_INKS_OF_SET:
        said = TogetherFault.TOO_MANY_INKS.say(most=MOST_INKS_OF_SET, found=count)
        yield SettingFault(("inks",), said)
    dpi: Resolution | None = values.get("dpi")
    if dpi is None:
        return
    printing: PrintWishes | None = values.get("print")
    on_film = dpi.scaled(*((1.0, 1.0) if printing is None else printing.scale))
    for place, ink in enumerate(inks.listed):
        if ink.lpi is not None and ink.lpi > finest_lpi(on_film):
            path: Path = ("inks", place, "lpi")
            allowed = allowed_lpi(dpi, on_film)
            said = ValueFault.MUST_BE_NOT.say(
                key=dotted(path), allowed=allowed, found=f"{ink.lpi:g}"
            )
            yield SettingFault(path, said)


def _with_inks(values: Mapping[str, Any], art: ArtWishes) -> Iterator[SettingFault]:
    """What films of several inks cannot be combined with."""
    marks: Marks = values.get("marks", Marks())
    strange = {
        ("gang",): ("off", values.get("gang") is not None),
        ("art", "repeat"): ("off", art.repeat is not None),
        ("art", "tile"): ("off", art.tile is not Automatic.OFF),
        ("art", "channel"): ("luminance", art.channel is not Channel.LUMINANCE),
        # Patches of other screens beside the label would not be the same on all films.
        ("marks", "steps"): ("false", marks.steps),
    }
    for path, (value, is_set) in strange.items():
        if is_set:
            said = TogetherFault.INKS_AND.say(key=dotted(path), value=value)
            yield SettingFault(path, said)
    separate: Separate = values.get("separate", Separate.AUTO)
    if values.get("icc") is not None:
        over = {
            "inks": ("process", values["inks"].choice is not InkChoice.PROCESS),
            "separate": ("auto", separate in {Separate.SPOT, Separate.SIMULATED}),
            "underbase": ("off", values.get("underbase") is not None),
        }
        for key, (value, is_set) in over.items():
            if is_set:
                yield SettingFault((key,), TogetherFault.ICC_AND.say(key=key, value=value))
    if art.treat is Treat.LINE and separate in {Separate.PROCESS, Separate.SIMULATED}:
        yield SettingFault(("separate",), TogetherFault.TREAT_LINE.say(found=separate))
    elif (art.treat, values["inks"].choice) == (Treat.LINE, InkChoice.PROCESS):
        yield SettingFault(("inks",), TogetherFault.PROCESS_LINE.say())


_TOO_LONG = {  # by whether it is a width, and whether art of it would have to be turned
    (True, False): TogetherFault.WIDTH,
    (False, False): TogetherFault.HEIGHT,
    (True, True): TogetherFault.WIDTH_TURNED,
    (False, True): TogetherFault.HEIGHT_TURNED,
}


def _example_width(sheet: SheetSize | None) -> str:
    """A width of art that somebody may write, in the unit of the sheet."""
    return "80 mm" if sheet is not None and not sheet.in_inches else "3 in"


def _impossible_layout(art: ArtWishes, sheet: SheetSize) -> Iterator[SettingFault]:
    if art.repeat is not None and art.tile is not Automatic.OFF:
        yield SettingFault(("art", "repeat"), TogetherFault.REPEAT_AND_TILE.say())
    if art.repeat == Repeat() and art.fit.kind == "page":
        said = TogetherFault.FILL_PAGE.say(width=_example_width(sheet))
        yield SettingFault(("art", "repeat"), said)
