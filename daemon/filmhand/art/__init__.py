"""Any customer's file to coded gray, with what it shows and what had to be repaired.

``files``, ``formats`` and ``drawings`` open it, ``analysis`` tells what it is, ``repair`` mends
it. Knows tone, profile and units, and nothing of films, sheets or jobs.
"""
