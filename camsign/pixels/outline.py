"""Which of two looks of a place is the thing that came there: the one whose outline stands out.

Where pictures differ over a region, one shows something and the other the ground it hides. The
ground goes on across the region's rim; a thing ends there. So the gradient across the rim is
stronger in the picture that shows the thing (known from telling things left behind from things
taken away in surveillance: Spagnolo and others 2006, San Miguel and Martinez 2008; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from camsign.pixels.opencv import opencv
from camsign.pixels.planes import Plane
from camsign.pixels.ranks import median

MOST = 7
"""So many other pictures are asked."""

_AROUND = np.ones((3, 3), np.uint8)
_Slopes = Sequence[NDArray[np.int16]]
_SMOOTH = 1.5  # pixels: how softly the region's rim is taken


def stands_out(here: Plane, others: Sequence[Plane], core: NDArray[np.bool_]) -> float:
    """Give how much more the outline of what differs stands out here than in the others.

    Args:
        here: the shade of a picture (rows, columns).
        others: the shade of pictures that show something else at `core`, at least one.
        core: where they differ most, inside the region whose outline is looked for.

    Returns:
        The median over the others: above 1, the thing is here; below, it is in the others.
    """
    asked = others[:: max(1, -(-len(others) // MOST))]
    slopes = opencv().spatialGradient(here)
    return median([_against(here, slopes, other, core) for other in asked])


def _against(here: Plane, slopes: _Slopes, other: Plane, core: NDArray[np.bool_]) -> float:
    cv2 = opencv()
    region = _region(cv2.blur(cv2.absdiff(here, other).astype(np.float32), (3, 3)), core)
    rim = cv2.morphologyEx(region, cv2.MORPH_GRADIENT, _AROUND).view(np.bool_)
    places = np.flatnonzero(rim)
    if not places.size:
        return 1.0
    soft = cv2.GaussianBlur(region.astype(np.float32), (0, 0), _SMOOTH)
    right, down = (cv2.Sobel(soft, cv2.CV_32F, *way).ravel()[places] for way in ((1, 0), (0, 1)))
    length = np.hypot(right, down) + 1e-6
    mine, theirs = (
        float(np.abs((right * x.ravel()[places] + down * y.ravel()[places]) / length).sum())
        for x, y in (slopes, cv2.spatialGradient(other))
    )
    return mine / max(theirs, float(places.size))


def _region(apart: NDArray[np.float32], core: NDArray[np.bool_]) -> NDArray[np.uint8]:
    """Give 1 where pictures differ at least half as much as at the core, joined to it, else 0."""
    there = (apart > median(apart[core]) / 2).view(np.uint8)
    count, labels = opencv().connectedComponents(there)
    mine = np.zeros(count, np.uint8)
    mine[labels[core]] = 1
    mine[0] = 0
    region: NDArray[np.uint8] = mine[labels]
    return region
