"""Whether the station is really there: a mark in it, and the same one in the state folder.

A share that is not mounted looks like an empty folder, and a renamed station like a new one. The
first start leaves a random mark in both places. Where the state folder knows a mark that the
station does not carry, nothing is made in the station until it does.
"""

from __future__ import annotations

import contextlib
import re
import secrets
from pathlib import Path

from filmhand.disk import atomic, file_names
from filmhand.disk.beneath import Beneath, as_beneath
from filmhand.service.service_words import ServiceWord

_MARK = re.compile(rb"[0-9a-f]{32}\n")


class StationMark:
    """The mark of one station, as this computer knows it."""

    def __init__(self, station: Path, state: Path) -> None:
        self._station = station
        self._own = Beneath(station) / ".filmhand" / "station"
        self._noted = state / "station"
        self._wanted = _read(self._noted)
        self._seen: tuple[int, int, int] | None = None  # the file that carried the mark last
        self.present = False  # what the last look found

    @property
    def known(self) -> bool:
        """True if the state folder remembers a station."""
        return self._wanted is not None

    @property
    def carried(self) -> bool:
        """True if the station carries any mark."""
        return _read(self._own) is not None

    def begin(self) -> bool:
        """Mark a station that this computer does not know yet; False if the known one is absent.

        OSError if the station cannot be made or written.
        """
        return self.there() if self.known else self.renew()

    def renew(self) -> bool:
        """Mark the station as it is now, whatever was known; OSError if that cannot be done."""
        self._station.mkdir(parents=True, exist_ok=True)
        self._own.parent.mkdir(exist_ok=True)
        if not self.carried:
            fresh = self._own.with_name(f".station.{file_names.random_digits()}.new")
            atomic.write_atomic(fresh, secrets.token_hex(16).encode() + b"\n")
            try:
                atomic.publish_no_replace(fresh, self._own)
            except FileExistsError:
                if self.carried:  # another host was first
                    fresh.unlink()
                else:
                    atomic.rename_durably(fresh, self._own)
        self._wanted = _read(self._own)
        if self._wanted is not None:
            self._noted.parent.mkdir(parents=True, exist_ok=True)
            atomic.write_atomic(self._noted, self._wanted)
        return self.there()

    def there(self) -> bool:
        """True while the station carries the mark that this computer knows; costs one look."""
        self.present = self._is_there()
        return self.present

    def _is_there(self) -> bool:
        try:
            found = self._own.lstat()
        except OSError:
            self._seen = None
            return False
        signature = found.st_dev, found.st_ino, found.st_mtime_ns
        if signature != self._seen:
            if self._wanted is None or _read(self._own) != self._wanted:
                return False
            self._seen = signature
        return True

    @property
    def why(self) -> str:
        """One sentence for while it is not there."""
        shown = file_names.shown(str(self._station))
        return ServiceWord.STATION_IS_NOT_THERE.say(station=shown)


def _read(path: Path | Beneath) -> bytes | None:
    with contextlib.suppress(OSError, ValueError):
        data = as_beneath(path).read_bytes(64)
        return data if _MARK.fullmatch(data) else None
    return None
