"""What set of films a profile wishes, and which press each of its inks has."""
