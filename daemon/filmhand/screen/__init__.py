"""Tone to dots: arrays in, arrays out; no files, no clock, no log."""
