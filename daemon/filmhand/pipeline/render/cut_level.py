"""Where line art is cut: the share of ink above which it is solid."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from filmhand.profile.model import Profile, ToneWishes
from filmhand.tone import FULL, Levels, tone_steps


def cut_level(profile: Profile) -> float:
    """The ink share (0..1) above which line art is solid.

    Contrast, midtone and dropout move it, as they move any tone; gain and hold are about dots and
    do not.
    """
    assert profile.threshold is not None
    return level_of(replace(profile.tone, hold="off"), profile.threshold)


def level_of(wishes: ToneWishes, threshold: float) -> float:
    """The highest ink share whose tone is not above the threshold, in percent."""
    share = np.arange(FULL + 1) / FULL
    tone = tone_steps(wishes, levels=Levels())(share)
    return float(share[tone <= threshold / 100][-1])
