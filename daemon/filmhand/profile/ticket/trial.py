"""The trial: which settings one sheet is to compare, as a ticket asks for it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from filmhand.profile.model import Profile
from filmhand.profile.read.document import Document, Path, Plain, plain_data
from filmhand.profile.read.read_words import FileKind
from filmhand.profile.read.schema import SettingFault, reader_of
from filmhand.profile.read.sentences import allowed_lpi, sentence
from filmhand.profile.read.values import read_flag, read_pair
from filmhand.profile.ticket.ticket_words import TicketAllowed
from filmhand.units import finest_lpi, matched
from filmhand.values import dataclass

SETTINGS: Mapping[str, Path] = {
    "lpi": ("lpi",),
    "dot": ("dot",),
    "angle": ("angle",),
    "threshold": ("threshold",),
    "contrast": ("tone", "contrast"),
    "midtone": ("tone", "midtone"),
}
"""What a trial may vary, and where each setting stands in a profile."""
TRIAL_KEYS = (*SETTINGS, "detail")
MOST_VALUES = 10


@dataclass(frozen=True, slots=True)
class Trial:
    """A trial as it is asked for.

    Attributes
    ----------
    values : by setting, the values to compare; empty for the program's own choice
    detail : (from the left %, from the top %) of the upright art: the middle of what is shown;
        None for the busiest place
    """

    values: tuple[tuple[str, tuple[Any, ...]], ...] = ()
    detail: tuple[float, float] | None = None


def read_trial(
    value: Plain, document: Document, profile: Profile, keys: Mapping[str, tuple[str, ...]]
) -> tuple[Trial | None, list[SettingFault]]:
    """The trial that a ticket's ``trial`` asks for (None for false), and what is wrong with it.

    Parameters
    ----------
    value : what stands there
    document : the ticket, for places and the values as written
    profile : for its resolution, which bounds the rulings
    keys : those of a ticket, with those inside each
    """
    if not isinstance(value, dict):
        try:
            return (Trial() if read_flag(value) else None), []
        except ValueError:
            allowed = TicketAllowed.TRIAL.say(keys=", ".join(TRIAL_KEYS))
            fault = ValueError(allowed)
            return None, [SettingFault.of(("trial",), value, document.written, fault)]
    troubles: list[SettingFault] = []
    values: list[tuple[str, tuple[Any, ...]]] = []
    detail = None
    for key, given in value.items():
        path: Path = ("trial", key)
        if key == "detail":
            try:
                detail = _read_detail(given)
            except ValueError as fault:
                troubles.append(SettingFault.of(path, given, document.written, fault))
        elif key in SETTINGS:
            found, wrong = _read_values(key, given, document, profile)
            values.append((key, found))
            troubles += wrong
        else:
            troubles.append(SettingFault.of_key(path, keys, FileKind.TICKET))
    return Trial(tuple(values), detail), troubles


def read_patch(value: object) -> str:
    """A patch's name as it stands on the trial sheet, such as B2."""
    found = matched(r"([A-Za-z])\s*([1-9][0-9]?)", value, TicketAllowed.PATCH.say())
    return found[1].upper() + found[2]


def _read_values(
    key: str, given: Plain, document: Document, profile: Profile
) -> tuple[tuple[Any, ...], list[SettingFault]]:
    """The different values of one setting, in the order given."""
    path: Path = ("trial", key)
    if isinstance(given, str) and ", " in given:  # a list without its brackets
        given = [plain_data(item.strip()) for item in given.split(", ")]
    items = given if isinstance(given, list) else [given]
    if not 1 <= len(items) <= MOST_VALUES:
        wrong = ValueError(TicketAllowed.TRIAL_VALUES.say(most=MOST_VALUES))
        return (), [SettingFault.of(path, given, document.written, wrong)]
    read = reader_of(SETTINGS[key])
    values: list[Any] = []
    troubles = []
    for place, item in enumerate(items):
        at: Path = (*path, place) if isinstance(given, list) else path
        try:
            value = read(item)
            if key == "lpi":
                _coarse_enough(value, profile)
        except ValueError as fault:
            message = sentence(path, item, document.written.get(at), fault)
            troubles.append(SettingFault(at, message))
        else:
            values += [] if value in values else [value]
    return tuple(values), troubles


def _coarse_enough(lpi: float, profile: Profile) -> None:
    if lpi > finest_lpi(profile.acetate_dpi):
        raise ValueError(allowed_lpi(profile.dpi, profile.acetate_dpi))


def _read_detail(value: object) -> tuple[float, float]:
    pair = read_pair(value, 0, 100)
    if pair is None:
        raise ValueError(TicketAllowed.TRIAL_DETAIL.say())
    return pair
