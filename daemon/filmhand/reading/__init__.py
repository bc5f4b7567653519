"""Scans and photographs of a printed wedge, read back to measured tones: arrays in, arrays out."""
