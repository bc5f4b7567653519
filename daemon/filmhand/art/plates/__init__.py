"""Art that is separated already: the plates that a file has, by the names of their inks."""
