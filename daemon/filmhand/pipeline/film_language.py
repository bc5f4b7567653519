"""The language of what stands on a film: the profile's, so that it is the same wherever made."""

from __future__ import annotations

from contextlib import AbstractContextManager

from filmhand.language import ENGLISH, speaking
from filmhand.profile.model import Profile


def in_film_language(profile: Profile) -> AbstractContextManager[None]:
    """Within it, sentences are said as they stand on the profile's films, whoever makes them."""
    return speaking(profile.language or ENGLISH)
