"""What is said to a printer, in the Internet Printing Protocol, and what it answers.

Knows nothing of jobs, orders or folders: :mod:`filmhand.printer.choice` holds a film against what a
printer can do, :mod:`filmhand.printer.session` talks with one, :mod:`filmhand.printer.discovery`
looks for some. Whatever a printer answers is hostile input.
"""
