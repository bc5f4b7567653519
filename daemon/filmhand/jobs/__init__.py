"""The way of a taken drop through the folders: claim, work, publish, put away, recover.

The folders are the truth; the ledger is memory. Every change of place is one rename whose source
lies in the job's own folder, so that a kill between any two steps leaves something that
:mod:`filmhand.jobs.recover` knows how to finish. Nothing here unlinks or overwrites a file that a
customer gave: such a file is only looked at, read, and renamed to a name that was free.
"""
