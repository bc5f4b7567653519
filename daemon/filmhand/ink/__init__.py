"""Colors of art to shares of inks, and back to the print that they make: arrays in, arrays out."""
