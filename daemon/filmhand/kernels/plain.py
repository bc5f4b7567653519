"""How NumPy's loops are asked for in place of the compiled ones."""

PLAIN = "FILMHAND_PLAIN"
"""The environment variable that asks for NumPy's loops where it is neither empty nor 0."""
