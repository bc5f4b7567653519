"""Real pictures out of packages, what eyes saw in them, and what becomes of them here.

``tests/real/labels.tsv`` has one row a file. The labels were written from looking at the pictures,
before any of them was made into a film:

kind : what it is; ``broken`` files cannot be what they pretend to be, ``not-art`` is no picture
treatment : what somebody who prints would choose (``line``, ``tone``, ``mixed``, several where
    each serves, ``either`` for all three), or ``refused`` for what must get no film; both where
    it hangs on the computer, such as its fonts
must show : what has to be seen on the film

Half of the rows, by the hash of the file's name, are held back: no test runs them, and nobody is
to look at what becomes of them while changing how art is judged.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1] / "real"))

import fetch
from fetch import CACHE, Label, labels, packages

from filmhand.cli.make import FilmMaker, Made
from filmhand.errors import ProgramFailed, Reason, Refused
from filmhand.profile.model import Profile
from filmhand.profile.read.load import load_profile

__all__ = [
    "CACHE",
    "PROFILE",
    "TREATMENTS",
    "Label",
    "Outcome",
    "fetch",
    "half",
    "labels",
    "outcomes",
    "packages",
    "there",
]

PROFILE = Path(__file__).parents[2] / "profiles" / "small-sheet.yaml"
TREATMENTS = ("line", "tone", "mixed")
# What a refusal tells of the treatment that was chosen before.
_MEANT = {
    Reason.LINES_TOO_FINE: "line",
    Reason.DOTS_TOO_FINE: "tone",
    Reason.HOLES_TOO_FINE: "tone",
    Reason.MOIRE: "tone",
    Reason.TOO_SMALL: "tone",
}
_LOSS = ("not show on the film", "not on the film", "taken off", "evened out")
_CALLED_DAMAGED = {Reason.DAMAGED, Reason.CRASHED}


@dataclass(frozen=True)
class Outcome:
    """What became of one file.

    Attributes
    ----------
    label : its row
    treated : the treatment of the film, or the one that the refusal means; empty if neither
    refused : the reason's word; empty where a film was made
    record : of the first film
    says : the notes or the refusal's sentence
    film : the first film as PNG, if it is kept
    """

    label: Label
    treated: str
    refused: str = ""
    record: dict[str, Any] = field(default_factory=dict)
    says: str = ""
    film: Path | None = None

    @property
    def word(self) -> str:
        """The outcome in a word: the treatment of a film, or the reason of a refusal."""
        return self.refused or self.treated

    @property
    def is_right(self) -> bool:
        """Whether eyes would have chosen this as well; a film refused for its size counts too."""
        if self._may_be_refused and self.refused:
            return True
        return self.treated in self.label.treatment.replace("either", "/".join(TREATMENTS)).split(
            "/"
        )

    @property
    def tells_of_loss(self) -> bool:
        """Whether it was refused, or says that something of the art is not on the film."""
        return bool(self.refused) or any(words in self.says for words in _LOSS)

    @property
    def is_false_alarm(self) -> bool:
        """Whether a sound file was called damaged."""
        return not self._may_be_refused and self.refused in map(str, _CALLED_DAMAGED)

    @property
    def is_shut_out(self) -> bool:
        """Whether a sound picture was called no picture, or of a kind that is not read."""
        return not self._may_be_refused and self.refused == str(Reason.NOT_ART)

    @property
    def _may_be_refused(self) -> bool:
        return "refused" in self.label.treatment.split("/")


def half(*, held: bool, few: bool = False) -> list[Label]:
    """The labels of one half, in the order of their hashes; ``few`` as in ``packages.tsv``."""
    chosen = {one.package for one in packages() if one.few or not few}
    return sorted(one for one in labels() if one.held_back == held and one.package in chosen)


def there(rows: Sequence[Label], folder: Path = CACHE) -> list[Label]:
    """Those whose files are in the folder."""
    return [one for one in rows if (folder / one.file_name).is_file()]


def outcomes(
    rows: Sequence[Label],
    *,
    folder: Path = CACHE,
    profile: Path = PROFILE,
    out: Path | None = None,
    jobs: int = 1,
) -> list[Outcome]:
    """What becomes of each file; with ``out`` the first film of each is kept there as PNG."""
    with tempfile.TemporaryDirectory(prefix="real-") as temporary, ThreadPoolExecutor(jobs) as pool:
        as_png = Path(temporary) / profile.name
        settings = profile.read_text(encoding="utf-8")
        as_png.write_text(f"{settings}\nwrite: png\n", encoding="utf-8")
        made_with = load_profile(as_png)
        return list(pool.map(partial(_outcome, folder=folder, profile=made_with, out=out), rows))


def _outcome(label: Label, *, folder: Path, profile: Profile, out: Path | None) -> Outcome:
    with tempfile.TemporaryDirectory(prefix="real-") as temporary, FilmMaker() as maker:
        try:
            films = maker.make(folder / label.file_name, profile, Path(temporary))
        except Refused as refusal:
            meant = _MEANT.get(refusal.reason, "")
            return Outcome(label, meant, str(refusal.reason), says=str(refusal))
        except ProgramFailed as failed:
            return Outcome(label, "", "bug", says=str(failed))
        first: Made = films[0]
        kept = None
        if out is not None:
            kept = out / f"{label.file_name}.film.png"
            kept.write_bytes(next(f for f in first.files if f.suffix == ".png").read_bytes())
        notes = " ".join(first.record["notes"])
        return Outcome(label, first.record["treated"], "", first.record, notes, kept)
