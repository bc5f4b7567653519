"""What is said of a film that was judged: its checks, its refusals, and what would pass."""

from __future__ import annotations

from filmhand.errors import Reason, RefusalSentence
from filmhand.language import Counted, Sentence


class VerdictWord(Sentence):
    """A check that does not pass, and what is missed on the film.

    ``where`` is nothing, or ``WORST_AT``.
    """

    AT_LEAST = "{meaning}: {found}, wanted at least {wanted}{where}."
    AT_MOST = "{meaning}: {found}, wanted at most {wanted}{where}."
    AT_LEAST_ANYWAY = (
        "{meaning}: {found}, wanted at least {wanted}, made all the same because the ticket asks "
        "for it{where}."
    )
    MORE_THAN_ANYWAY = (
        "{meaning}: {found}, wanted more than {wanted}, made all the same because the ticket asks "
        "for it{where}."
    )
    AT_MOST_ANYWAY = (
        "{meaning}: {found}, wanted at most {wanted}, made all the same because the ticket asks "
        "for it{where}."
    )
    WIDTH = "{micrometers} µm ({points} pt)"
    FOUND_AND_DETAIL = "{found} ({detail})"
    WORST_AT = "; worst at {places}"
    FROM_SHEET = "{places} from the sheet's top left corner"
    FROM_SHOWN = "{places} from the top left corner of the film as it is shown here"
    STENCIL_WANTS = "Emulsion and film want at least {limit} on any mesh."
    # from where on it does not even warn
    PASSES_AT = "It would pass without this warning at {where}."
    PASSES_AT_BY_NAME = "It would pass without this warning at {where}: rename it {names}."
    PASSES_AT_BY_TICKET = (
        "It would pass without this warning at {where}: write {settings} in its ticket."
    )
    PIXELS_WANTED = "At {size} it wants {across} x {down} pixels."
    QUOTED_NAME = "“{name}”"
    # notes
    NO_MESH = "No mesh is named, so nothing was judged against one."
    MUCH_LOST = (
        "{share} % of the art's darkness is not on the film; look at the proof before you print it."
    )
    # on a label
    FAILED = "FAIL {what}"
    WARNED = "WARN {what}"
    LARGER_THAN_SCREEN = "larger than its screen prints"
    MUCH_NOT_THERE = "much of the art's darkness not on the film"


class VerdictCount(Counted):
    """What is told of one thing or several on a film."""

    STROKES_LOST = (
        "{n} thin stroke would not print, whatever lies beside: {length} long, {narrowest} µm "
        "wide, wanted more than {limit} µm{where}.",
        "{n} thin strokes would not print, whatever lies beside: {length} long in all, "
        "{narrowest} µm wide at the narrowest, wanted more than {limit} µm{where}.",
    )
    STROKES_UNEVEN = (
        "{n} thin stroke may print unevenly or break, whatever lies beside: {length} long, "
        "{narrowest} µm wide, wanted more than {limit} µm{where}.",
        "{n} thin strokes may print unevenly or break, whatever lies beside: {length} long in all, "
        "{narrowest} µm wide at the narrowest, wanted more than {limit} µm{where}.",
    )
    GAPS_LOST = (
        "{n} thin gap would not hold in the stencil, whatever lies beside: {length} long, "
        "{narrowest} µm wide, wanted more than {limit} µm{where}.",
        "{n} thin gaps would not hold in the stencil, whatever lies beside: {length} long in all, "
        "{narrowest} µm wide at the narrowest, wanted more than {limit} µm{where}.",
    )
    GAPS_UNEVEN = (
        "{n} thin gap may fill in, whatever lies beside: {length} long, {narrowest} µm wide, "
        "wanted more than {limit} µm{where}.",
        "{n} thin gaps may fill in, whatever lies beside: {length} long in all, {narrowest} µm "
        "wide at the narrowest, wanted more than {limit} µm{where}.",
    )
    SPOTTED_OUT = (
        "Spotted out {n} place, {pixels} pixels or {share} % of the ink. Specks of ink removed: "
        "{specks}; pinholes filled: {pinholes}; enlarged to a size that the mesh holds: "
        "{enlarged}; joined to a neighbor: {joined}.",
        "Spotted out {n} places, {pixels} pixels or {share} % of the ink. Specks of ink removed: "
        "{specks}; pinholes filled: {pinholes}; enlarged to a size that the mesh holds: "
        "{enlarged}; joined to a neighbor: {joined}.",
    )
    SHAPES_GONE = (
        "{n} shape of the art does not show on the film ({share} % of its darkness), at {places}; "
        "art: {{treat: tone}} would screen pale parts, and a "
        "lower threshold would make them solid.",
        "{n} shapes of the art do not show on the film ({share} % of its darkness), at {places}; "
        "art: {{treat: tone}} would screen pale parts, and a "
        "lower threshold would make them solid.",
    )
    SHAPES_FILLED = (
        "{n} light shape in the art's ink does not show on the film, at {places}; "
        "art: {{treat: tone}} would screen it, and a higher threshold would keep "
        "it open.",
        "{n} light shapes in the art's ink do not show on the film, at {places}; "
        "art: {{treat: tone}} would screen them, and a higher threshold would "
        "keep them open.",
    )
    # on a label
    SHAPES_NOT_THERE = (
        "{n} of the art's shapes not on the film",
        "{n} of the art's shapes not on the film",
    )


class FilmRefusal(RefusalSentence):
    """What the mesh would not hold, or the art has too little for."""

    NOTHING_PRINTS = (
        Reason.BLANK,
        "Nothing of this art would print: every tone comes out as clear film.",
        "Check that the art is not empty, not white on a clear ground, and that neither "
        "tone.dropout nor threshold nor a mask takes everything away.",
    )
    ALL_PRINTS = (
        Reason.BLANK,
        "This art would print as one solid block: every tone comes out black.",
        "Check that the art is not all black, and that threshold and tone.contrast leave "
        "clear film.",
    )
    # With hold: auto the screen leaves out what is too small; only the art can have cut it up.
    DOTS = (
        Reason.DOTS_TOO_FINE,
        "The smallest dots on this film measure {measured} µm; on mesh {mesh} anything of {limit} "
        "µm or less can lie on threads alone and not print{where}.",
        "Smooth the grain and the finest detail of the picture, or use a finer mesh.",
    )
    DOTS_OF_ALL_SIZES = (
        Reason.DOTS_TOO_FINE,
        "The smallest dots on this film measure {measured} µm; on mesh {mesh} anything of {limit} "
        "µm or less can lie on threads alone and not print{where}.",
        "Set tone: {{hold: auto}}, which leaves out what is too small, or use a finer mesh.",
    )
    SHADOW_DOTS = (
        Reason.HOLES_TOO_FINE,
        "The smallest shadow dots on this film measure {measured} µm; on mesh {mesh} anything of "
        "{limit} µm or less may have no thread to hold it{where}.",
        "Smooth the grain and the finest detail of the picture, or use a finer mesh.",
    )
    SHADOW_DOTS_OF_ALL_SIZES = (
        Reason.HOLES_TOO_FINE,
        "The smallest shadow dots on this film measure {measured} µm; on mesh {mesh} anything of "
        "{limit} µm or less may have no thread to hold it{where}.",
        "Set tone: {{hold: auto}}, which leaves out what is too small, or use a finer mesh.",
    )
    STROKES = (
        Reason.LINES_TOO_FINE,
        "The narrowest strokes of this drawing measure {measured} on the film; on mesh {mesh} "
        "strokes of {limit} or less would not print{where}.",
        "Print it larger, use a finer mesh, or draw its finest strokes wider than {limit}.",
    )
    GAPS = (
        Reason.LINES_TOO_FINE,
        "The narrowest gaps of this drawing measure {measured} on the film; on mesh {mesh} gaps "
        "of {limit} or less would not hold in the stencil{where}.",
        "Print it larger, use a finer mesh, or draw its finest gaps wider than {limit}.",
    )
    PIXELS = (
        Reason.TOO_SMALL,
        "At {size} this picture has {measured} pixels to the inch, and a screen of {lpi} lpi needs "
        "at least {limit}.",
        "Bring the picture with about {across} x {down} pixels.",
    )
    PIXELS_LEFT = (
        Reason.TOO_SMALL,
        "At {size} this picture has {measured} pixels to the inch, and a screen of {lpi} lpi needs "
        "at least {limit}.",
        "Bring the picture with about {across} x {down} pixels in what is left of it after "
        "art.crop and art.trim.",
    )
    MOIRE = (
        Reason.MOIRE,
        "Dots and threads of mesh {mesh} would show moire: {bands}; their visibility is "
        "{measured}, and this profile allows at most {limit}.",
        "Use another angle, another lpi or another mesh.",
    )
    MOIRE_BETWEEN_FILMS = (
        Reason.MOIRE,
        "The screens of the inks would show moire with each other: {bands}; their visibility is "
        "{measured}, and this profile allows at most {limit}.",
        "Leave the angles of the inks out, so that they lie apart as the trade has it, or use "
        "another lpi.",
    )


class OfferWord(Sentence):
    """What would pass in place of what was refused, and how to ask for it."""

    ONE = "This passes, tried with this art: {offer}."
    SEVERAL = "Each of these passes, tried with this art: {offers}."
    OR = "{offers}; or {last}"
    ELSE = "{offers} To keep size and ruling as they are, more pixels are needed. {do}"
    OR_WIDER_STROKES = (
        "{offers} To keep size and mesh as they are, draw its finest strokes wider than {limit} on "
        "the film."
    )
    OR_WIDER_GAPS = (
        "{offers} To keep size and mesh as they are, draw its finest gaps wider than {limit} on "
        "the film."
    )
    # the changes
    SMALLER = "print it no larger than {size} wide"
    LARGER = "print it at least {size} wide"
    RULING = "screen it at {lpi} lpi"
    ANGLE = "set the halftone angle to {angle} degrees"
    MESH = "use mesh {mesh}"
    HOLD = "set tone: {{hold: auto}}, which leaves out dots that are too small"
    # how to ask for one
    BY_NAME = "{change} (rename it “{name}”)"
    BY_NAME_OR_PROFILE = "{change} (rename it “{name}”, or write {setting} in the profile)"
    BY_PROFILE = "{change} (write {setting} in the profile)"
    BY_TICKET = "{change} (write {setting} in its ticket)"
    UNDER = "{setting} under {group}:"
