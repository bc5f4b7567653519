"""The way of one art: from a customer's file to finished films, or to a refusal.

This is the one room that knows every room below it. Nothing here moves a customer's file: art,
ticket and mask are read, and films are written to a folder that the caller gives. It begins with
:func:`filmhand.pipeline.make.make_films`.
"""
