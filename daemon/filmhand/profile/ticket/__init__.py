"""Wishes for one job over a profile: the ticket, brackets in a name, trials and shared sheets."""
