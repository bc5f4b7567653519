"""How an art is treated: what it looks like proposes, what would come of it decides."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from filmhand.art.analysis.classify import ArtKind, Reading, classify, read_mixed
from filmhand.art.analysis.exact_flats import find_pale_ink, flat_inks
from filmhand.art.analysis.ground_color import can_be_paper
from filmhand.art.files.gray import Codes
from filmhand.art.opened_art import Art
from filmhand.language import and_list
from filmhand.pipeline.render.cut_level import cut_level
from filmhand.pipeline.render.line_outcome import LineOutcome, line_outcome
from filmhand.pipeline.render.render_words import RenderCount, RenderNote, ScreenedAsTone
from filmhand.profile.model import Profile
from filmhand.profile.terms import Treat
from filmhand.speaking_pool import SpareThread

_MOST_INKS, _SOLID_INK = 4, 0.97
# A second ground beside the lightest: a tint as pale as this over this share (charts: 14 % and
# more); paper has one.
_PALE_TINT, _LEAST_TINTED = 0.25, 0.08

LineTrial = Callable[[], LineOutcome]


def begin_trial(art: Art, profile: Profile, seen: Codes, spare: SpareThread) -> LineTrial | None:
    """Have art tried as line art while it is looked at, where nearly all readings ask for that.

    seen : the art reduced
    """
    if profile.art.treat is not Treat.AUTO or art.drawn:
        return None
    return spare.begin(line_outcome, seen, None, drawn=False, level=cut_level(profile))


def treatment(
    art: Art,
    profile: Profile,
    seen: Codes,
    notes: list[str],
    reminders: list[str],
    *,
    trial: LineTrial | None = None,
) -> tuple[Treat, Reading | None]:
    """The treatment of an art, and what it was taken for if the profile leaves that open.

    seen : the art reduced; ``notes`` and ``reminders`` are added to.
    trial : from :func:`begin_trial` of the same art.
    """
    wish = profile.art.treat
    if wish is Treat.MIXED:
        reading = read_mixed(art.coded, drawn=art.drawn)
        if reading is None:
            notes.append(RenderNote.ALL_IS_SCREENED.say())
            return Treat.TONE, None
    elif wish is Treat.AUTO:
        looks = classify(art.coded, drawn=art.drawn, screenless=art.screenless)
        reading = _by_outcome(looks, art, profile, seen, trial)
    else:
        return wish, None
    notes += reading.why
    if art.drawn and reading.treat == "tone":
        reminders += _inks_note(flat_inks(art.coded))
    return Treat(reading.treat), reading


def _by_outcome(
    reading: Reading, art: Art, profile: Profile, seen: Codes, trial: LineTrial | None
) -> Reading:
    """The reading, or another treatment where that of the reading would lose what matters.

    trial : from :func:`begin_trial`, and of use for art as a whole without an ink to bring up
    """
    if reading.kind is ArtKind.SCREENED or (
        reading.kind is ArtKind.FLAT and reading.treat == "tone"
    ):
        return reading  # its dots are shapes; flat tints are never line art
    ink = reading.ink
    if ink is None and art.drawn and reading.treat == "tone":
        ink = find_pale_ink(art.coded)
    if trial is not None and ink is None and reading.regions is None:
        outcome = trial()
    else:
        level = cut_level(profile)
        outcome = line_outcome(seen, reading.regions, drawn=art.drawn, level=level, ink=ink)
    # Rules are lost on purpose; but a tint without the grain of paper is a chart's.
    if reading.kind is ArtKind.SIGNATURE:
        drawn_ground = outcome.on_paper and not outcome.grain
        if not (drawn_ground and _is_tinted(art.coded)):
            return reading
    if reading.treat == "tone":
        if not outcome.sure or not _plausible(outcome.on_paper, art):
            return reading
        why = RenderNote.LOSES_NOTHING.say()
        return Reading(ArtKind.DRAWING, "line", [why], ink=ink)
    why_not = outcome.why_not()
    if reading.kind is ArtKind.SIGNATURE:
        why_not = ScreenedAsTone.RULES_ON_TINT.say()
    if not why_not and not _plausible(outcome.on_paper, art):
        why_not = ScreenedAsTone.COLORED_GROUND.say()
    if not why_not:
        return reading
    kind = ArtKind.FLAT if art.drawn else ArtKind.PHOTO
    return replace(
        reading, kind=kind, treat="tone", why=[why_not], ink=None, regions=None, rules=()
    )


def _inks_note(inks: list[tuple[float, float]]) -> list[str]:
    """What becomes of each of the flat inks of drawn art, where there are a few."""
    if not 2 <= len(inks) <= _MOST_INKS:
        return []
    told = [
        RenderNote.INK_SOLID.say(share=f"{100 * share:.2g}")
        if tone > _SOLID_INK
        else RenderNote.INK_IN_DOTS.say(tone=f"{100 * tone:.0f}", share=f"{100 * share:.2g}")
        for tone, share in inks
    ]
    return [RenderCount.INKS.say(len(inks), inks=and_list(told))]


def _is_tinted(coded: Codes) -> bool:
    """Whether a good part of drawn art lies on a pale tint and not on its ground."""
    return any(tone < _PALE_TINT and share >= _LEAST_TINTED for tone, share in flat_inks(coded))


def _plausible(on_paper: bool, art: Art) -> bool:
    return not on_paper or can_be_paper(art.ground)
