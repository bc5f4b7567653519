"""What a file is and whether it has arrived whole: the two questions asked before decoding."""

from filmhand.art.files.completeness import Completeness, completeness_of
from filmhand.art.files.file_types import HEAD_BYTES, READABLE, FileType, sniff

__all__ = ["HEAD_BYTES", "READABLE", "Completeness", "FileType", "completeness_of", "sniff"]
