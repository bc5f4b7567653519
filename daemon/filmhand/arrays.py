"""Names for arrays by what they hold."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

BoolArray = NDArray[np.bool_]
UInt8Array = NDArray[np.uint8]
UInt16Array = NDArray[np.uint16]
UInt64Array = NDArray[np.uint64]
Int32Array = NDArray[np.int32]
Int64Array = NDArray[np.int64]
Float32Array = NDArray[np.float32]
Float64Array = NDArray[np.float64]
