"""Art that is separated already: its own plates to the films of a set."""
