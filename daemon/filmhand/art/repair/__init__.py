"""What is wrong with art, put right: JPEG blocks, an earlier screen, paper, crooked pages.

May know ``analysis``.
"""
