"""Names for the arrays that pass between functions; what one holds and in which unit is said there.

A module that a quick command loads imports these for the type checker alone: numpy takes a tenth of
a second.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Reals = NDArray[np.floating[Any]]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Times = NDArray[np.datetime64]
