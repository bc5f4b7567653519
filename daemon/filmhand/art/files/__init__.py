"""Opening files of pixels: what a file is, whether it is whole, and its pixels as coded gray.

May know ``drawings`` (for files that are commands and not pixels) and one word of ``analysis``.
"""
