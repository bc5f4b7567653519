"""The print to expect of a film: its picture, its losses and its tone curve."""
