"""Art that is separated already to the tones of its films, and the print that its plates make."""

from __future__ import annotations

import numpy as np

from filmhand.arrays import Float64Array, UInt16Array
from filmhand.ink.cielab import lab_to_srgb
from filmhand.ink.mixing import PrintModel
from filmhand.pipeline.separation.geometry.disc_reach import DiscReach
from filmhand.pipeline.separation.planning.press_of import press_for
from filmhand.pipeline.separation.planning.set_plan import SeparationMode, WantedSet
from filmhand.pipeline.separation.planning.wanted_inks import asked_mode, known_inks, mixing_mode
from filmhand.pipeline.separation.planning.wanted_set import wanted_set
from filmhand.pipeline.separation.plates.own_plates import OwnPlates
from filmhand.pipeline.separation.plates.plate_tones import PlateTones
from filmhand.pipeline.separation.separated_art import SeparatedArt, model_of
from filmhand.profile.model import Profile
from filmhand.tone import FULL
from filmhand.units import PixelsPerInch

_SIDE = 1200  # pixels of the picture that films are held against


def mode_of_plates(plates: OwnPlates, profile: Profile) -> SeparationMode:
    """How plates are screened: those of drawings alike, and others at angles of their own."""
    asked = asked_mode(profile)
    if asked is not None:
        return asked
    return SeparationMode.SPOT if plates.drawn else mixing_mode(profile)


def separated_plates(
    plates: OwnPlates,
    wanted: WantedSet,
    profile: Profile,
    to: tuple[int, int],
    resolution: PixelsPerInch,
) -> SeparatedArt:
    """The tones of the films of a set whose plates the art has.

    Parameters
    ----------
    plates : as they lie on the films
    wanted : with a choke its first ink is the underbase, drawn back where the art has no plate of
        it
    to : (width, height) that the art has on the films, in device pixels
    resolution : of the films
    """
    choke = None
    if wanted.choke_mm is not None and wanted.inks[0].name in plates.made:
        choke = DiscReach.of_choke(wanted.choke_mm, resolution)
    source = PlateTones(
        plates.of([ink.name for ink in wanted.inks]),
        to,
        drawn=plates.drawn and wanted.mode is SeparationMode.SPOT,
        underbase=None if choke is None else 0,
        choke=choke,
    )
    return SeparatedArt(source, _model(wanted, profile), source.screened)


def print_of_plates(plates: OwnPlates, profile: Profile) -> UInt16Array:
    """(H, W, 3) uint16, sRGB codes of what the plates print by the model, small."""
    inks = known_inks(profile)
    assert inks is not None
    wanted = wanted_set(profile, inks, mode_of_plates(plates, profile))
    coverages = np.stack(
        [_small(tone) for tone in plates.of([ink.name for ink in wanted.inks])], axis=-1
    )
    codes = lab_to_srgb(_model(wanted, profile).screened(coverages))
    return np.rint(np.clip(codes, 0, 1) * FULL).astype(np.uint16)


def _model(wanted: WantedSet, profile: Profile) -> PrintModel:
    press = press_for(profile, [ink.name for ink in wanted.inks])
    return model_of(wanted) if press is None else press.model


def _small(tone: UInt16Array) -> Float64Array:
    """The means of blocks of a plate, 0..1."""
    step = max(1, -(-max(tone.shape) // _SIDE))
    rows, columns = (range(0, side, step) for side in tone.shape)
    sums = np.add.reduceat(np.add.reduceat(tone.astype(np.float64), rows, axis=0), columns, axis=1)
    counts = np.outer(
        np.diff(np.append(rows, tone.shape[0])), np.diff(np.append(columns, tone.shape[1]))
    )
    means: Float64Array = sums / counts / FULL
    return means
