"""Opening files of commands, PDF and SVG, drawn with the film's own pixels.

May know ``files`` for what all files have in common.
"""
