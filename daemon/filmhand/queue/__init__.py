"""What waits and who works: one queue a profile, the threads that serve it, and its upkeep.

May know ``jobs``, ``intake``, ``peers`` and ``disk``, and nothing of pictures.
"""
