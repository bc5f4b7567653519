"""What a command asks of the service that works in a profile's folder, as a small file each.

::

    .filmhand/asked/<id>.json    {"schema": "filmhand-request/1", "do": "discard", "what": "..."}

What can be half-done when we die here: a request is removed after what it asks for is on disk, so
it may be met once more, by a service that finds that nothing is left of it to do. Whoever can write
in the folder can forge a request: one that has not its form is set aside.
"""

from __future__ import annotations

import json
from datetime import datetime
from enum import StrEnum

from filmhand.disk import atomic, forms
from filmhand.disk.beneath import IRREGULAR, Beneath
from filmhand.disk.folders import Folders
from filmhand.disk.set_aside import own_folder, set_aside
from filmhand.jobs.job import new_id
from filmhand.values import dataclass

_SCHEMA = "filmhand-request/1"
_LARGEST = 4096  # bytes
_AT_ONCE = 500  # requests that are read in one look


class Asked(StrEnum):
    """What can be asked for."""

    DISCARD = "discard"  # give a held film up; `what` is its job


@dataclass(frozen=True, slots=True)
class Request:
    """One request: what is asked for, of which job, and the file that says so."""

    do: Asked
    what: str
    file: Beneath

    def done(self) -> None:
        """It need not be met again."""
        self.file.unlink(missing_ok=True)


_FORM = forms.record(
    {
        "schema": forms.one_word_of([_SCHEMA]),
        "do": forms.one_word_of([*Asked]),
        "what": forms.text(longest=1000),
    }
)


def ask(folders: Folders, do: Asked, what: str, now: datetime) -> None:
    """Ask for it; OSError if nothing can be written there."""
    folder = _folder(folders)
    own_folder(folder, folders.hidden)
    data = {"schema": _SCHEMA, "do": do, "what": what}
    atomic.write_atomic(folder / f"{new_id(now)}.json", json.dumps(data).encode() + b"\n")


def asked(folders: Folders) -> list[Request]:
    """All that is asked for, in the order of asking; OSError if the folder does not answer."""
    folder, found = _folder(folders), []
    try:
        files = folder.iterdir()[:_AT_ONCE]
    except FileNotFoundError:
        return []
    except OSError as error:
        if error.errno in IRREGULAR:
            set_aside(folder, folders.hidden)
            return []
        raise
    for file in files:
        stem, _, end = file.name.rpartition(".")
        if file.name.startswith("."):
            continue  # being written
        try:
            if end != "json" or not forms.is_job_id(stem):
                raise ValueError("it has not the name of a request")
            told = _FORM(forms.read_json(file, _LARGEST))
        except FileNotFoundError:
            continue
        except (ValueError, OSError) as error:
            if isinstance(error, OSError) and error.errno not in IRREGULAR:
                raise
            set_aside(file, folders.hidden)
        else:
            found.append(Request(Asked(told["do"]), told["what"], file))
    return found


def _folder(folders: Folders) -> Beneath:
    return folders.hidden / "asked"
