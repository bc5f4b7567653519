"""Art is read first, and what comes after that is loaded meanwhile.

A fresh process, which knows its job before it has loaded everything, so comes to decoding sooner:
decoders leave the interpreter to whoever needs it. In a fork of a warm process all is loaded.
"""

from __future__ import annotations

import gc
import importlib
import sys
from functools import lru_cache
from pathlib import Path

from filmhand.art.opened_art import Art
from filmhand.art.repair.repair_note import Repair
from filmhand.film.formats import load_codecs
from filmhand.pipeline.render.cropping import KeptPart, open_kept
from filmhand.pipeline.render.screen_plan import ScreenPlan, plan_screen
from filmhand.pipeline.render.tile_cache import tile_of
from filmhand.pipeline.wished_page import WishedPage
from filmhand.profile.model import Profile
from filmhand.profile.terms import Treat
from filmhand.screen.tile import ThresholdTile
from filmhand.speaking_pool import SpeakingPool
from filmhand.values import dataclass

_REST = "filmhand.pipeline.finished"  # which imports all that an ordinary film needs
# Seconds after which a thread that loads leaves the interpreter to one that waits for it. A decoder
# takes it back for each piece of the file; Python's own 5 ms would make that longer than the rest.
_TURN = 0.0002


@dataclass(slots=True)
class ReadPage:
    """One page of art as it was read, with what is kept of it, and the screen of its profile."""

    art: Art | None
    kept: KeptPart
    repaired: list[Repair]
    screen: ScreenPlan | None
    tile: ThresholdTile | None

    def take_art(self) -> Art:
        """The art, once: its picture is to go as soon as whoever takes it lets go of it."""
        art, self.art = self.art, None
        assert art is not None
        return art


def read_wished(wished: WishedPage) -> ReadPage:
    """Read one page, and get the screen and the modules for what comes after.

    Raises Refused where the art cannot be read.
    """
    request, profile = wished.request, wished.profile
    with SpeakingPool(1) as aside:
        # The screen follows from the profile alone, so it is made while the art is read.
        ready = aside.submit(screen_and_tile, profile, request.tiles)
        # Whoever needs what is loaded here tells what is wrong with it.
        aside.submit(load_rest)
        aside.submit(load_codecs, profile.write)
        art, kept, repaired = open_kept(request, profile, page=wished.page)
        return ReadPage(art, kept, repaired, *ready.result())


def load_rest() -> None:
    """Load what makes films of art that has been read, if that has not been done."""
    if _REST in sys.modules:
        return
    turn, collects = sys.getswitchinterval(), gc.isenabled()
    sys.setswitchinterval(_TURN)
    gc.disable()
    try:
        importlib.import_module(_REST)
        gc.freeze()  # all of it stays, so it is not to be collected
    finally:
        if collects:
            gc.enable()
        sys.setswitchinterval(turn)


@lru_cache(maxsize=1)
def screen_and_tile(
    profile: Profile, tiles: Path | None
) -> tuple[ScreenPlan | None, ThresholdTile | None]:
    """The screen of a profile with its tile; None of both where all art is line art."""
    if profile.art.treat is Treat.LINE:
        return None, None
    screen = plan_screen(profile)
    return screen, tile_of(screen, tiles)
