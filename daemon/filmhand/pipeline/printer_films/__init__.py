"""Films that show what a printer does, and how its scale and stacked films are told."""
