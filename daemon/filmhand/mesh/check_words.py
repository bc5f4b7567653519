"""What is said of each check: what it means where it does not pass, and its figure."""

from __future__ import annotations

from filmhand.language import Sentence


class CheckMeaning(Sentence):
    """What a check means where it does not pass, as the beginning of a sentence."""

    SMALLEST_DOT = "Some dots may print unevenly or not at all"
    SMALLEST_SHADOW_DOT = "Some shadow dots may fill in"
    NARROWEST_STROKE = "The finest strokes may print unevenly or break"
    NARROWEST_GAP = "The finest gaps may fill in"
    STENCIL_STROKE = "The finest strokes are at the limit of emulsion and film"
    STENCIL_GAP = "The finest gaps are at the limit of emulsion and film"
    MESH_TO_LPI_RATIO = "The mesh is coarse for this screen"
    ART_RESOLUTION = "The art has few pixels for its size; edges and detail will look soft"
    GRAY_LEVELS = "One dot can take few sizes; smooth tones may show steps"
    MOIRE = "Dots and threads may show as visible bands"
    MOIRE_BETWEEN_FILMS = "The screens of the inks may show as visible bands"


class CheckFigure(Sentence):
    """What was measured, with its name and unit."""

    SMALLEST_DOT = "smallest dot {figure} µm"
    SMALLEST_SHADOW_DOT = "smallest shadow dot {figure} µm"
    NARROWEST_STROKE = "narrowest stroke {figure} µm"
    NARROWEST_GAP = "narrowest gap {figure} µm"
    STENCIL_STROKE = "stroke for the stencil {figure} µm"
    STENCIL_GAP = "gap for the stencil {figure} µm"
    MESH_TO_LPI_RATIO = "mesh-to-line ratio {figure} : 1"
    ART_RESOLUTION = "art resolution {figure} ppi"
    GRAY_LEVELS = "gray levels {figure} sizes of one dot"
    MOIRE = "moire visibility {figure}"
    MOIRE_BETWEEN_FILMS = "moire between films, visibility {figure}"


class CheckCaption(Sentence):
    """The same where a small caption has room for no more."""

    SMALLEST_DOT = "smallest dot {figure} µm"
    SMALLEST_SHADOW_DOT = "smallest shadow dot {figure} µm"
    NARROWEST_STROKE = "narrowest stroke {figure} µm"
    NARROWEST_GAP = "narrowest gap {figure} µm"
    STENCIL_STROKE = "stroke {figure} µm"
    STENCIL_GAP = "gap {figure} µm"
    MESH_TO_LPI_RATIO = "mesh to line {figure} : 1"
    ART_RESOLUTION = "art {figure} ppi"
    GRAY_LEVELS = "dot sizes {figure}"
    MOIRE = "moire {figure}"
    MOIRE_BETWEEN_FILMS = "moire of films {figure}"


class LimitFigure(Sentence):
    """A limit of a check with its unit."""

    MICROMETERS = "{figure} µm"
    RATIO = "{figure} : 1"
    RESOLUTION = "{figure} ppi"
    SIZES = "{figure} sizes of one dot"
    VISIBILITY = "{figure}"
