"""What is told of art that states a size of its own, and is printed at another."""

from __future__ import annotations

from filmhand.pipeline.render.render_words import RenderNote
from filmhand.profile.model import Profile
from filmhand.sheet.layout import Layout
from filmhand.units import MM_PER_INCH, length_text

# Nobody takes a page that was printed a little larger for a mistake (common practice, no source).
_FAR = 1.5


def size_note(
    own_in: tuple[float, float] | None, layout: Layout, profile: Profile, *, scanned: bool
) -> list[str]:
    """A sentence where ``fit: page`` makes another size of the art than it states.

    Parameters
    ----------
    own_in : inches across and down that the art states, None for none
    scanned : its size may be meant; cameras write 300 ppi and mean nothing by it, so of theirs only
        an enlargement is told
    """
    if own_in is None or profile.art.fit.kind != "page":
        return []
    own_mm = MM_PER_INCH * max(own_in)
    times = max(layout.art_mm) / own_mm
    if 1 / _FAR <= times <= _FAR or (times < 1 and not scanned):
        return []
    length = length_text(own_mm, profile.sheet)
    if times > 1:
        return [RenderNote.ENLARGED.say(length=length, times=f"{times:.2g}")]
    return [RenderNote.REDUCED.say(length=length, percent=f"{100 * times:.0f}")]
