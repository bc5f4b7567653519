"""What art shows: tone or line, its kind, its paper, its lettering, where its subject lies.

Works on coded gray; may know ``files.gray`` and how an earlier screen is found, no decoder.
"""
