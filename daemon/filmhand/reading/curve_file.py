"""A press curve as a small text that people can read and edit, and that ``tone.gain`` takes."""

from __future__ import annotations

from collections.abc import Sequence

from filmhand.profile.read.curve_head import head_lines, one_line
from filmhand.profile.terms import CurveHead
from filmhand.reading.curve_words import CurveWord


def curve_file(
    points: Sequence[tuple[float, float]], head: CurveHead, notes: Sequence[str] = ()
) -> str:
    """The text: comments, then film % and print % a line.

    :func:`filmhand.profile.read.curve.curve_from_text` reads it back to the same points and head.

    Parameters
    ----------
    points : film and print tones in percent, two decimals
    notes : sentences that stand in the comments as well
    """
    title = CurveWord.TITLE.say(profile=head.profile or "?")
    lines = [f"# {one_line(title)}", *head_lines(head)]
    lines += [f"# - {one_line(note)}" for note in notes]
    lines += [f"{film:6.2f}, {printed:6.2f}" for film, printed in points]
    return "\n".join(lines) + "\n"
