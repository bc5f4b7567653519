"""Film positives for screen printing, made from pictures that are dropped in a folder."""

__version__ = "0.2.0"
