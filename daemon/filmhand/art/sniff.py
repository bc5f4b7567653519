"""What a file is and whether it has arrived whole: the two questions asked before decoding."""

from filmhand.art.finish import Finish, looks_finished
from filmhand.art.kinds import HEAD_BYTES, READABLE, Kind, sniff

__all__ = ["HEAD_BYTES", "READABLE", "Finish", "Kind", "looks_finished", "sniff"]
