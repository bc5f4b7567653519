"""Bits to films and back: TIFF, PNG, PDF and PWG Raster, each strip by strip."""
