"""What colors are called, one row a name."""

from __future__ import annotations

from filmhand.language import Sentence


class ColorWord(Sentence):
    """Plain names of colors."""

    BLACK = "black"
    DARK_GRAY = "dark gray"
    GRAY = "gray"
    LIGHT_GRAY = "light gray"
    WHITE = "white"
    RED = "red"
    DARK_RED = "dark red"
    PINK = "pink"
    LIGHT_PINK = "light pink"
    ORANGE = "orange"
    LIGHT_ORANGE = "light orange"
    BROWN = "brown"
    DARK_BROWN = "dark brown"
    LIGHT_BROWN = "light brown"
    BEIGE = "beige"
    YELLOW = "yellow"
    LIGHT_YELLOW = "light yellow"
    DARK_YELLOW = "dark yellow"
    OLIVE = "olive"
    YELLOW_GREEN = "yellow green"
    GREEN = "green"
    LIGHT_GREEN = "light green"
    DARK_GREEN = "dark green"
    TURQUOISE = "turquoise"
    LIGHT_TURQUOISE = "light turquoise"
    DARK_TURQUOISE = "dark turquoise"
    BLUE = "blue"
    LIGHT_BLUE = "light blue"
    DARK_BLUE = "dark blue"
    PURPLE = "purple"
    LIGHT_PURPLE = "light purple"
    DARK_PURPLE = "dark purple"
    MAGENTA = "magenta"
