"""Dots against threads: how strong and how slow their bands are, and what would have less.

Arrays in, arrays out.
"""
