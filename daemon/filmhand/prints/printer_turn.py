"""Whose turn a printer is, where several hosts print what lies in one profile's folder.

::

    .filmhand/turn-<hash of the printer's address>           the id of the host whose turn it is
    .filmhand/turn-<hash of the printer's address>.wanted    another host waits for it

A host that prints takes the turn in the folder of each profile that names the printer, and begins
with nothing while another has it: so no film of another host comes between those of a set. A busy
host keeps it until another wants it, and then gives it back between two films or two sets; one at
rest has none. Whoever takes over what a silent host was to print takes its turns along
(:func:`hand_over`), and a turn of a host that has no folder any more is free. One at a printer that
a host's profile does not name goes back with its next sign of life (:func:`give_back_besides`).

What can be half-done when we die here: a turn that we have and do not need, which goes back after
the next start, whichever printer is named then, or with our orders to whoever takes them over; or a
file of our own folder that has not become a turn, which is written over.
"""

from __future__ import annotations

import contextlib
import hashlib
from collections.abc import Iterator

from filmhand.disk import atomic
from filmhand.disk.beneath import IRREGULAR, Beneath
from filmhand.disk.folders import HOST_NAME
from filmhand.disk.set_aside import set_aside
from filmhand.values import dataclass

_START = "turn-"
_WANTED = ".wanted"
HALF_A_TURN = f".{_START}"  # what a kill may leave in a host's own folder begins with it
_LONGEST = 100  # bytes of a turn: a host's id and the end of a line
_TRIES = 3  # to take a turn that was free a moment ago


@dataclass(frozen=True, slots=True)
class PrinterTurn:
    """The turn at one printer, as it lies in the folder of one profile.

    Attributes
    ----------
    hidden : the private folder of the profile
    host : whose turns are ours
    printer : its address
    """

    hidden: Beneath
    host: str
    printer: str

    @property
    def place(self) -> Beneath:
        """Where it says whose turn it is."""
        digest = hashlib.sha256(self.printer.encode()).hexdigest()
        return self.hidden / f"{_START}{digest[:16]}"

    def take(self) -> str:
        """The id of the host whose turn it is; empty if it is ours now. OSError as of any file."""
        for _ in range(_TRIES):
            holder = _holder(self.place, self.hidden)
            if holder == self.host:
                return ""
            if holder is not None and (self.hidden / holder).is_dir():
                return holder
            if holder is not None:
                _let_go(self.place, self.hidden / self.host, holder)
            with contextlib.suppress(FileExistsError):
                fresh = self.hidden / self.host / f".{self.place.name}.new"
                atomic.write_atomic(fresh, _text(self.host), durable=False)
                atomic.publish_no_replace(fresh, self.place)
                self.satisfy()
                return ""
        return holder or self.host  # several take it just now: the next look tells

    def give_back(self) -> None:
        """Let another host have it, if it is ours."""
        if self.place.exists() and _holder(self.place, self.hidden) == self.host:
            self.place.unlink(missing_ok=True)

    def want(self) -> None:
        """Ask whoever has it to give it back when it can."""
        with contextlib.suppress(FileExistsError):
            self._wanted.touch()

    def is_wanted(self) -> bool:
        """True if another host waits for it, or did a moment ago."""
        return self._wanted.exists()

    def satisfy(self) -> None:
        """Whoever waits for it is heard; who still does asks again."""
        _satisfy(self.place, self.hidden)

    @property
    def _wanted(self) -> Beneath:
        return _mark_of(self.place)


def hand_over(hidden: Beneath, silent: str, host: str) -> None:
    """What was the turn of a silent host is ours: we go on with what it was to print."""
    for place in _turns(hidden):
        if _holder(place, hidden) == silent:
            atomic.write_atomic(place, _text(host), durable=False, shared_by_way_of=hidden / host)
            _satisfy(place, hidden)  # perhaps it was us who waited; who else does asks again


def give_back_besides(hidden: Beneath, host: str, printer: str | None) -> None:
    """Give back the host's turns at other printers than the one that the profile names now.

    Such as of a profile that went to another printer while others keep the old one, or that was
    forged: nobody else would ever give it back. OSError as of any file.
    """
    kept = None if printer is None else PrinterTurn(hidden, host, printer).place.name
    for place in _turns(hidden):
        if place.name != kept and _holder(place, hidden) == host:
            place.unlink(missing_ok=True)


def _turns(hidden: Beneath) -> Iterator[Beneath]:
    for name in hidden.names():
        if name.startswith(_START) and not name.endswith(_WANTED):
            yield hidden / name


def _mark_of(place: Beneath) -> Beneath:
    return place.with_name(place.name + _WANTED)


def _satisfy(place: Beneath, hidden: Beneath) -> None:
    mark = _mark_of(place)
    try:
        mark.unlink(missing_ok=True)
    except OSError:  # a folder, which is nobody's wish
        if set_aside(mark, hidden) is None:
            raise


def _text(host: str) -> bytes:
    return host.encode() + b"\n"


def _holder(place: Beneath, hidden: Beneath) -> str | None:
    """The id of a host, None for nobody; what no host wrote is set aside."""
    try:
        holder = place.read_bytes(_LONGEST).decode("ascii").strip()
    except FileNotFoundError:
        return None
    except ValueError:
        holder = ""
    except OSError as error:
        if error.errno not in IRREGULAR:
            raise
        holder = ""
    if HOST_NAME.fullmatch(holder):
        return holder
    set_aside(place, hidden)
    return None


def _let_go(place: Beneath, own: Beneath, holder: str) -> None:
    """Remove the turn of a host that is gone, unless somebody has taken it meanwhile."""
    aside = own / f".{place.name}.old"
    with contextlib.suppress(FileNotFoundError, FileExistsError):
        atomic.rename_durably(place, aside)
        if aside.read_bytes(_LONGEST) == _text(holder):
            aside.unlink(missing_ok=True)
        else:
            atomic.publish_no_replace(aside, place)
