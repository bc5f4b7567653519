"""Files and folders as such: names, atomic moves, rights, free space; nothing of jobs or pictures.

``atomic`` is the only module of the program that renames a customer's file.
"""
