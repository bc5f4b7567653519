"""Art to the bits of its area of the sheet: cut, repaired, screened or cut at a threshold."""
