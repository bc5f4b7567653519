"""A finished bitmap measured and spotted out: components, strokes, gaps, openings.

Arrays in, arrays out.
"""
