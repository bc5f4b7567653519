"""What the steps of one film share: its wishes, and the record that grows as it is made."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import field
from typing import TYPE_CHECKING, Any

from filmhand.art.analysis.classify import Reading
from filmhand.art.files.gray import Codes
from filmhand.art.repair.line_cleaning import LinePlan
from filmhand.art.repair.repair_note import Repair
from filmhand.mesh.checks import Check
from filmhand.mesh.moire.bands import Moire
from filmhand.pipeline.render.background import ClearedBackground
from filmhand.pipeline.render.copies import ArtCopies
from filmhand.pipeline.render.cropping import KeptPart
from filmhand.pipeline.render.screen_plan import ScreenPlan
from filmhand.profile.model import Profile
from filmhand.profile.terms import Treat
from filmhand.profile.ticket.ticket import Ticket
from filmhand.request import JobRequest
from filmhand.screen.tile import ThresholdTile
from filmhand.sheet.layout import Box, Layout
from filmhand.tone import Levels
from filmhand.values import dataclass

if TYPE_CHECKING:
    from filmhand.pipeline.separation.planning.set_plan import FilmOfSet


@dataclass(frozen=True, slots=True)
class Warned:
    """A warning as notes, pages and messages tell it, and as the proof does.

    They differ where places are told and the proof shows the film turned.
    """

    said: str
    on_proof: str


@dataclass(slots=True)
class FilmInWork:
    """One film in the making.

    Attributes
    ----------
    request : the job
    profile : its profile with the ticket's wishes in place
    ticket : what else the ticket says
    layout, treated, kept : set once the art has been read
    source : what the film is made from, as its record tells it
    screen, tile : how it is screened; None for line art
    reading : what the art was taken for; None where the profile says how it is treated
    plan : gives what is to be done to line art; None where nobody has looked at it as it is now
    notes, warned, checks, repaired, cleared : grow from step to step and end up in the record;
        what is ``warned`` of stands among the notes too
    reminders : those of the notes that whoever prints the film must know, so that they stand on
        the proof and the page too
    seen, evened : the art as it lies upright, reduced, before anything was taken off it and without
        its paper (None where none was taken off); the film is held against it
    grain : whether that paper has the grain of paper, and so may have smudges
    levels : the end points that it was stretched to
    moire : the bands that the finished film makes with the mesh
    missed : tells what of the art is not on the film, in a few words
    of_set : which film of a set it is; None for one alone
    """

    request: JobRequest
    profile: Profile
    ticket: Ticket
    layout: Layout
    treated: Treat
    kept: KeptPart
    source: dict[str, Any]
    screen: ScreenPlan | None
    tile: ThresholdTile | None
    notes: list[str] = field(default_factory=list)
    warned: list[Warned] = field(default_factory=list)
    reminders: list[str] = field(default_factory=list)
    checks: list[Check] = field(default_factory=list)
    repaired: list[Repair] = field(default_factory=list)
    cleared: ClearedBackground = field(default_factory=ClearedBackground)
    reading: Reading | None = None
    plan: Callable[[], LinePlan] | None = None
    seen: Codes | None = None
    evened: Codes | None = None
    grain: bool = False
    levels: Levels = field(default_factory=Levels)
    moire: Moire | None = None
    missed: Callable[[], list[str]] = list
    of_set: FilmOfSet | None = None

    def remind(self, said: str) -> None:
        """Note what whoever prints the film must know."""
        self.notes.append(said)
        self.reminders.append(said)

    def warn(self, said: str) -> None:
        """Note what may go wrong, and have it on proof and label."""
        self.notes.append(said)
        self.warned.append(Warned(said, said))

    @property
    def cut_at(self) -> float:
        """The tone over which line art is solid, percent; inks of a set meet at half."""
        return 50.0 if self.of_set is not None else self.profile.threshold or 0.0

    @property
    def area(self) -> Box:
        """Where the art lies on the film itself, mirrored with it."""
        if self.profile.film.mirror:
            return self.layout.art.mirrored(self.layout.sheet.width)
        return self.layout.art

    @property
    def copies(self) -> ArtCopies:
        """Where in the area the art lies, once or several times."""
        return ArtCopies.of(self.layout.grid, self.area)
