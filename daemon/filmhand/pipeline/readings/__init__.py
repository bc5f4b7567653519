"""Scans of printed wedges on their way to curves: opened, read, kept, put in force."""
