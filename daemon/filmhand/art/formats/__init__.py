"""Kinds of files that are decoded to whole arrays of pixels: by reading of our own, or by codecs.

What the base reader opens itself, and drawings, lie elsewhere.
"""
