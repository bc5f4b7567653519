"""Other hosts that work on the same folder: who is alive, and what they have made.

May know ``jobs`` and ``disk``.
"""
