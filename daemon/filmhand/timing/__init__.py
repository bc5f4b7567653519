"""Waiting, repeating and hanging: pauses that grow, log lines that thin out, calls that may hang.

Knows nothing else of the program.
"""
