"""Art of several inks: where each ink goes on its film, what a set is, and what it prints."""
