"""Repairs of art before it is laid out, as far as the profile wants them and the art needs them."""

from __future__ import annotations

from functools import partial

from filmhand.art.analysis.ground_color import can_be_paper
from filmhand.art.analysis.paper_estimate import LookForPaper, PaperLook
from filmhand.art.opened_art import Art
from filmhand.art.repair.descreen import find_earlier_screen, without_screen
from filmhand.art.repair.deskew import find_skew, straightened
from filmhand.art.repair.jpeg_blocks import find_blocks, without_blocks
from filmhand.art.repair.paper_shading import evened, find_paper
from filmhand.art.repair.repair_note import Repair, RepairKind
from filmhand.errors import Quantity
from filmhand.pipeline.render.render_words import RenderNote, RenderRefusal
from filmhand.profile.model import Profile
from filmhand.profile.terms import Automatic, Channel, OnScreened, Treat
from filmhand.speaking_pool import SpareThread


def repair_before_judging(art: Art, profile: Profile, *, name: str) -> list[Repair]:
    """What has to be done before anybody judges the art: squares of JPEG, dots of a screen.

    ``art.coded`` is replaced where something is done, and left alone where not.

    Raises
    ------
    Refused
        ``moire``, where the art was screened before and the profile refuses that
    """
    done = []
    wishes = profile.repair
    # The table is that of the lightness; single channels were coded with others, or mixed.
    if (
        wishes.blocks is Automatic.AUTO
        and art.luma_steps
        and profile.art.channel is Channel.LUMINANCE
    ):
        blocks = find_blocks(art.coded, art.luma_steps)
        if blocks is not None:
            art.change(without_blocks(art.coded, art.luma_steps, blocks))
            say = RenderNote.BLOCKS.say(times=f"{blocks.blockiness:.2f}")
            found = round(blocks.blockiness, 2)
            done.append(Repair(RepairKind.BLOCKS, found, "times the steps within", say))
    # Line art is cut, not screened: its dots stay shapes and beat with nothing.
    if wishes.screened is not OnScreened.OFF and profile.art.treat is not Treat.LINE:
        done += _descreened(art, profile, name)
    return done


def _descreened(art: Art, profile: Profile, name: str) -> list[Repair]:
    screen = find_earlier_screen(art.coded)
    if screen is None:
        art.screenless = True
        return []
    if profile.repair.screened is OnScreened.REFUSE:
        raise RenderRefusal.SCREENED_BEFORE.refused(
            found=Quantity(round(screen.period, 1), "pixels a dot"),
            needed=Quantity(RenderNote.NO_DOTS.say(), "pixels a dot"),
            name=name,
            period=f"{screen.period:.1f}",
            angle=f"{screen.angle:.0f}",
        )
    art.change(without_screen(art.coded, screen))
    art.drawn = False
    say = RenderNote.DESCREENED.say(period=f"{screen.period:.1f}", angle=f"{screen.angle:.0f}")
    return [Repair(RepairKind.SCREENED, round(screen.period, 2), "pixels a dot", say)]


def begin_look(art: Art, spare: SpareThread) -> LookForPaper:
    """Have the paper looked for while the art is judged, where it may be paper."""
    looking = partial(PaperLook.at, art.coded)
    if art.drawn or not can_be_paper(art.ground):
        return looking
    return spare.begin(looking)


def repair_drawing(
    art: Art, profile: Profile, treated: Treat, *, masked: bool, look: LookForPaper | None = None
) -> list[Repair]:
    """What is done to drawings and pages only: straightened, and evened where they are screened.

    Line art is evened later, together with its cleaning (:mod:`filmhand.art.repair.line_cleaning`).
    Drawn art and photographs are left alone. A mask lies over the art as it was dropped, so masked
    art is not turned.

    look : gives :meth:`~filmhand.art.analysis.paper_estimate.PaperLook.at` of the art as it is,
        where somebody has that
    """
    if art.drawn:
        return []
    wishes, done = profile.repair, []
    is_tone = treated is Treat.TONE and can_be_paper(art.ground)
    paper = find_paper(art.coded, look) if is_tone else None
    is_drawing = treated is not Treat.TONE or paper is not None
    if paper is not None and profile.tone.endpoints == "auto":
        even, repairs = evened(
            art.coded,
            paper,
            light=wishes.light is Automatic.AUTO,
            tint=wishes.paper is Automatic.AUTO,
        )
        art.change(even)
        done += repairs
    if is_drawing and wishes.skew is Automatic.AUTO:
        done += _straightened(art, masked=masked)
    return done


def _straightened(art: Art, *, masked: bool) -> list[Repair]:
    skew = find_skew(art.coded)
    if skew is None:
        return []
    back, angle = skew.angle > 0, f"{abs(skew.angle):.1f}"
    if masked:
        said = RenderNote.ASLANT_BACK_UNDER_MASK if back else RenderNote.ASLANT_UNDER_MASK
        art.notes.append(said.say(angle=angle))
        return []
    straight = straightened(art.coded, skew.angle)
    if straight is None:
        said = RenderNote.ASLANT_BACK_AT_EDGES if back else RenderNote.ASLANT_AT_EDGES
        art.notes.append(said.say(angle=angle))
        return []
    art.change(straight)
    said = RenderNote.STRAIGHTENED_BACK if back else RenderNote.STRAIGHTENED
    return [Repair(RepairKind.SKEW, round(skew.angle, 2), "degrees", said.say(angle=angle))]
