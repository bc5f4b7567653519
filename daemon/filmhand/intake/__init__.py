"""What lies in a drop folder, when it has come to rest, and what is refused unopened.

Only looks; may know ``disk``.
"""
