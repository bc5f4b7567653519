"""From an order to print a film to the sheet at the printer, exactly once.

May know ``jobs`` and the room ``printer``; knows nothing of IPP, and never what a picture is.
"""
