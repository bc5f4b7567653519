"""What would pass in place of what was refused: changes that were tried with the art itself.

For each kind of refusal there are a few families of change - the ruling, the angle, the mesh, the
printed size. A family lists its changes from the least to the largest; the plan of the screen alone
rules many out, and the first that is left and really gives a film is offered.
"""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator
from dataclasses import replace
from math import ceil, floor

from filmhand.errors import Reason, Refused
from filmhand.mesh.checks import Verdict
from filmhand.mesh.table import MESHES, woven
from filmhand.pipeline.film_in_work import FilmInWork
from filmhand.pipeline.judged import judged_bits
from filmhand.pipeline.render.screen_moire import moire_check, moire_offers, tile_moire
from filmhand.pipeline.render.screen_plan import limits_of, plan_screen
from filmhand.pipeline.verdict.refusals import SMALLEST_OFFERED_MM, CheckFailed
from filmhand.pipeline.verdict.verdict_words import OfferWord
from filmhand.pipeline.verdict.ways_to_ask import ProfileChange, how_to_ask
from filmhand.pipeline.wished_page import WishedPage
from filmhand.profile.model import COARSEST_LPI, Profile
from filmhand.profile.read.values import LARGEST_SHEET_MM
from filmhand.profile.terms import Automatic, Fit
from filmhand.units import MM_PER_INCH, length_text, plain_length, read_length_mm

MOST_OFFERS = 2
"""So many changes are offered."""
MOST_TRIES_A_FAMILY = 3
"""So many changes of a family are tried."""
SHARE_OF_TIME = 0.3
"""Share of a job's time after which nothing more is tried: a refusal must come, too."""
# A size measured in whole pixels needs a little to spare.
_SPARE = 1.1


def offers_that_pass(wished: WishedPage, failed: CheckFailed) -> list[str]:
    """Up to two changes, each with what to write for it, by which this page was really made.

    Parameters
    ----------
    wished : the page that was refused
    failed : its refusal
    """
    until = time.monotonic() + SHARE_OF_TIME * wished.profile.limits.seconds
    offers = []
    for family in families(failed, wished.profile):
        for tried, change in enumerate(family):
            if tried == MOST_TRIES_A_FAMILY or time.monotonic() > until:
                break
            if _passes(wished, change.profile):
                offers.append(how_to_ask(change, wished))
                break
        if len(offers) == MOST_OFFERS:
            break
    return offers


def _passes(wished: WishedPage, profile: Profile) -> bool:
    try:
        sheet = wished.request.scratch / "bits-tried"
        with judged_bits(replace(wished, profile=profile), sheet) as judged:
            return not _loses(judged.work)
    except Refused:
        return False


def _loses(work: FilmInWork) -> bool:
    """Whether strokes or gaps of the art would be lost, though the film passes its checks.

    A film on which they stand as rows of dots is no remedy for strokes that are too thin.
    """
    return bool(work.missed()) or has_thin_pieces(work)


def has_thin_pieces(work: FilmInWork) -> bool:
    """Whether single strokes or gaps are so thin that they would be lost, whatever lies beside."""
    alone = [check for check in work.checks if check.pieces is not None]
    return any(
        check.fail_limit is not None and check.pieces.limit_um <= check.fail_limit
        for check in alone
        if check.pieces is not None
    )


def families(failed: CheckFailed, profile: Profile) -> Iterator[Iterable[ProfileChange]]:
    """The families that can help against this refusal, the cheapest to follow first."""
    if failed.reason is Reason.TOO_SMALL:
        yield _smaller(failed, profile)
        yield _coarser(profile, from_lpi=failed.check.measured)
    elif failed.reason is Reason.LINES_TOO_FINE:
        yield _larger(failed, profile)
        yield _finer_meshes(failed, profile)
    elif failed.reason is Reason.MOIRE:
        longest_mm = max(failed.layout.art_mm)
        yield from _less_moire(profile, longest_mm)
        yield _by_tile(_meshes(profile), longest_mm)
    else:
        if profile.tone.hold != "auto":
            changed = replace(profile, tone=replace(profile.tone, hold="auto"))
            yield [ProfileChange(OfferWord.HOLD.say(), changed, ("tone", "hold"), "auto")]
        yield _coarser(profile, from_lpi=_lpi_of_larger_dots(failed, profile))
        yield _finer_meshes(failed, profile)


def _by_tile(changes: Iterable[ProfileChange], longest_mm: float) -> Iterator[ProfileChange]:
    """The changes whose screen, before any film, is not refused for its moire."""
    for change in changes:
        plan = plan_screen(change.profile)
        moire = tile_moire(change.profile, plan, plan.tile(), longest_mm)
        if moire and moire_check(change.profile, moire).verdict is not Verdict.FAIL:
            yield change


def _less_moire(profile: Profile, longest_mm: float) -> Iterator[list[ProfileChange]]:
    """Angles, then rulings, whose bands are seen less, the least seen first."""
    plan = plan_screen(profile)
    tile = plan.tile()
    now = tile_moire(profile, plan, tile, longest_mm)
    offers = moire_offers(profile, plan, tile, now, longest_mm)
    for key, change in (("angle", _angle), ("lpi", _ruling)):
        yield [
            change(offer.value, offer.profile)
            for offer in offers
            if offer.key == key and offer.check.verdict is not Verdict.FAIL
        ]


def _angle(angle: float, profile: Profile) -> ProfileChange:
    words = OfferWord.ANGLE.say(angle=f"{angle:g}")
    return ProfileChange(words, profile, ("angle",), f"{angle:g}", f"{angle:g} degrees")


def _ruling(lpi: float, profile: Profile) -> ProfileChange:
    words = OfferWord.RULING.say(lpi=f"{lpi:g}")
    return ProfileChange(words, profile, ("lpi",), f"{lpi:g}", f"{lpi:g} lpi")


def _coarser(profile: Profile, *, from_lpi: float | None) -> Iterator[ProfileChange]:
    """Rulings from ``from_lpi`` down, each a sixth coarser."""
    if profile.lpi is None or from_lpi is None:
        return
    lpi = min(floor(from_lpi), ceil(profile.lpi) - 1)
    # Much coarser it would be another picture (ours, no source).
    while lpi >= max(COARSEST_LPI, profile.lpi / 2):
        yield _ruling(lpi, replace(profile, lpi=float(lpi)))
        lpi = floor(lpi * 5 / 6)


def _lpi_of_larger_dots(failed: CheckFailed, profile: Profile) -> float | None:
    """The ruling at which dots of the same tones would have the size that does not even warn."""
    check = failed.check
    if profile.lpi is None or check.measured is None or check.warn_limit is None:
        return None
    return profile.lpi * min(1.0, check.measured / check.warn_limit)


def _finer_meshes(failed: CheckFailed, profile: Profile) -> Iterator[ProfileChange]:
    """Usual meshes whose limit the measured size clears, those that shops stock first."""
    size, feature = failed.check.measured or 0.0, failed.check.name.row.feature
    assert feature is not None
    for change in _meshes(profile):
        limits = limits_of(change.profile)
        assert limits is not None
        if size > _SPARE * limits.of_feature(feature)[0]:
            yield change


def _meshes(profile: Profile) -> Iterator[ProfileChange]:
    """Usual meshes finer than the profile's own: those that shops stock, then the others, the
    coarsest first.
    """
    assert profile.mesh is not None
    for row in sorted(MESHES, key=lambda row: (not row.stocked, row.threads_per_cm)):
        if row.usual and row.threads_per_cm > profile.mesh.threads_per_cm:
            mesh = woven(row.threads_per_cm, row.thread_um)
            words = OfferWord.MESH.say(mesh=mesh.label)
            yield ProfileChange(words, replace(profile, mesh=mesh), ("mesh",), mesh.pair)


def _smaller(failed: CheckFailed, profile: Profile) -> Iterator[ProfileChange]:
    """The largest size at which the art's pixels still suffice, and one a tenth smaller."""
    check = failed.check
    if not check.measured or not check.fail_limit:
        return
    for spare in (1.0, 0.9):
        times = spare * check.measured / check.fail_limit
        yield from _sized(failed, profile, times, OfferWord.SMALLER)


def _larger(failed: CheckFailed, profile: Profile) -> Iterator[ProfileChange]:
    """Sizes at which what was measured would clear the limit; the layout tells which fit."""
    check = failed.check
    if check.fail_limit is None:
        return
    least = max(check.measured or 0.0, check.fail_limit / 20)
    for spare in (1.05, 1.25, 1.6):
        yield from _sized(failed, profile, spare * check.fail_limit / least, OfferWord.LARGER)


def _sized(
    failed: CheckFailed, profile: Profile, times: float, said: OfferWord
) -> Iterator[ProfileChange]:
    """The art printed so many times as large, if that is a sensible size."""
    width, height = failed.layout.art_mm
    upright = height if failed.layout.turned else width
    cut = ceil if times > 1 else floor
    # A hundredth of an inch, or a millimeter, is as finely as people write it.
    step = MM_PER_INCH / 100 if profile.sheet.in_inches else 1.0
    mm = cut(round(upright * times / step, 6)) * step
    largest = LARGEST_SHEET_MM if profile.art.tile is Automatic.AUTO else max(profile.sheet.mm)
    longer = mm * max(width, height) / upright
    # art.fit takes no width under 5 mm.
    if 5 <= mm <= largest and (times > 1 or longer >= SMALLEST_OFFERED_MM):
        written = plain_length(mm, profile.sheet, cut=cut)
        words = said.say(size=length_text(mm, profile.sheet, cut=cut))
        art = replace(profile.art, fit=Fit("width", read_length_mm(written)))
        changed = replace(profile, art=art)
        yield ProfileChange(words, changed, ("art", "fit"), f"width {written}", written)
