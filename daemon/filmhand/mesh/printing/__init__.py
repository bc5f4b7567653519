"""What stencil, mesh and ink make of a film, as geometry. Arrays in, arrays out."""
