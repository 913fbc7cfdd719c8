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

MOST = 7
"""So many other pictures are asked."""

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
    return float(np.median([_against(here, other, core) for other in asked]))


def _against(here: Plane, other: Plane, core: NDArray[np.bool_]) -> float:
    cv2 = opencv()
    apart = cv2.blur(cv2.absdiff(here, other).astype(np.float32), (3, 3))
    _, labels = cv2.connectedComponents((apart > np.median(apart[core]) / 2).astype(np.uint8))
    mine = np.unique(labels[core])
    region = np.isin(labels, mine[mine > 0]).astype(np.uint8)
    soft = cv2.GaussianBlur(region.astype(np.float32), (0, 0), _SMOOTH)
    around = np.ones((3, 3), np.uint8)
    rim = cv2.dilate(region, around) > cv2.erode(region, around)
    if not rim.any():
        return 1.0
    across = [g[rim] for g in _gradient(soft)]
    length = np.hypot(*across) + 1e-6
    mine_there, theirs = (
        float(
            np.abs(
                sum(a * g[rim] for a, g in zip(across, _gradient(p), strict=True)) / length
            ).mean()
        )
        for p in (here, other)
    )
    return mine_there / max(theirs, 1.0)


def _gradient(plane: NDArray[np.uint8] | NDArray[np.float32]) -> tuple[NDArray[np.float32], ...]:
    cv2 = opencv()
    return tuple(
        np.asarray(cv2.Sobel(plane, cv2.CV_32F, *way), np.float32) for way in ((1, 0), (0, 1))
    )
