"""Who else walks by: a coyote, a squirrel, a person."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from camsign.demo.figures import Figure, Part, blob, build, limb, outline, turned
from camsign.demo.paint import f32

if TYPE_CHECKING:
    from camsign.demo.paint import Color

COYOTE: Color = (92, 112, 130)
PALE: Color = (150, 172, 190)
RED: Color = (48, 78, 128)
SKIN: Color = (128, 156, 196)
ORANGE: Color = (20, 96, 238)
OLIVE: Color = (58, 84, 82)
BOOT: Color = (40, 48, 58)


def _stride(phase: int, reach: float = 0.42) -> tuple[float, float]:
    """Swings [rad] of the near and the far leg at one of eight phases."""
    swing = reach * float(np.cos(2 * np.pi * phase / 8))
    return swing, -swing


@lru_cache(maxsize=16)
def coyote(phase: int) -> Figure:
    """A coyote at a trot."""
    near, far = _stride(phase)
    parts = [*_paws(far, near, 0)]
    body = "-40,46 -30,53 -5,52 18,56 30,53 34,42 24,28 0,30 -22,36 -38,34"
    head = "36,64 42,70.5 50,69 56,63 68,58.5 69,55.5 60,53.5 48,53.5 40,55"
    parts += [
        Part(outline("-36,47 -46,42 -60,26 -66,16 -58,17 -46,28 -36,38"), COYOTE, 0.06),
        Part(outline("-62,24 -67,15 -60,16"), BOOT, 0, soft=0.02),
        Part(outline(body), COYOTE, 0.11),
        Part(outline("26,27 10,33 -20,38 -20,33 0,27"), PALE, 0, soft=0.02),
        *_paws(near, far, 1),
        Part(outline("16,55 32,62 42,68 50,58 42,48 32,38 20,40"), COYOTE, 0.09),
        Part(outline("36,66 37.5,80 40,81.5 44.5,69"), COYOTE, 0.02),
        Part(outline(head), COYOTE, 0.05),
        Part(outline("68,55 56,53 44,50 50,56.5 62,56.5"), PALE, 0, soft=0.012),
        Part(outline("66.5,59.2 69.8,57.5 68.5,55.6 66.5,57"), BOOT, 0.01),
        Part(outline("51,64.5 53,65 53.5,63.8 51.8,63.2"), BOOT, 0),
    ]
    return build(parts, (0.522, 0.642), fur=0.12)


FORELEG = f32([[0.22, 0.42], [0.215, 0.24], [0.22, 0.05], [0.25, 0.0]])
HINDLEG = f32([[-0.28, 0.44], [-0.22, 0.30], [-0.34, 0.20], [-0.30, 0.04], [-0.27, 0.0]])


def _paws(front: float, hind: float, layer: int) -> list[Part]:
    fore = turned(FORELEG, (0.22, 0.42), front)
    back = turned(HINDLEG, (-0.28, 0.44), hind)
    fore[:, 1] -= fore[-1, 1] - 0.08 * abs(np.sin(front))
    back[:, 1] -= back[-1, 1] * np.linspace(0, 1, 5)
    return [
        Part(limb(back, f32([0.18, 0.12, 0.05, 0.036, 0.045])), COYOTE, 0.04, layer),
        Part(limb(fore, f32([0.12, 0.065, 0.038, 0.045])), PALE, 0.03, layer),
    ]


@lru_cache(maxsize=4)
def squirrel(phase: int) -> Figure:
    """A squirrel on the ground, tail up; at odd phases it lifts its head."""
    lift = f32([0, 0.03 * (phase % 2)])
    parts = [
        Part(outline("-9,3 -16,6 -20,14 -17,23 -22,27 -13,27 -11,18 -13,11 -8,7"), RED, 0.03),
        Part(outline("-11,5 -6,12 3,13 9,11 8,4 0,1.5 -8,1"), RED, 0.05),
        Part(outline("7,5 0,2 2,5 8,10"), PALE, 0, soft=0.01),
        Part(outline("5,11 9,16 14,13.5 16,10.5 11,8") + lift, RED, 0.03),
        Part(outline("8,15 8.3,18.5 10,15.5") + lift, RED, 0.01),
        Part(outline("11.8,13.5 12.6,13.9 12.8,12.8") + lift, BOOT, 0),
        Part(
            limb(f32([[0.07, 0.06], [0.09, 0.02], [0.11, 0]]), f32([0.03, 0.02, 0.02])), RED, 0.01
        ),
    ]
    return build(parts, (0.123, 0.134 + float(lift[1])), fur=0.1)


@lru_cache(maxsize=32)
def person(phase: int, orange: bool) -> Figure:
    """Somebody who walks by with a pack, in an orange vest and cap in the gun season."""
    near, far = _stride(phase, 0.36)
    vest = ORANGE if orange else OLIVE
    parts = [*_walker(far, near, 0)]
    parts += [
        Part(outline("-30,138 -22,144 -10,140 -12,105 -26,103 -31,115"), (52, 70, 84), 0.10),
        Part(outline("-13,144 -2,150 10,144 14.5,128 12,105 10,86 -12,86 -15,110"), vest, 0.13),
        *_walker(near, far, 1),
        Part(outline("-3,147 -2,156 7,155 7,147"), SKIN, 0.05),
        Part(
            outline("-6,164 -5,174 4,177 11.5,172 12.5,164 13.5,161 10,155 2,153 -5,157"),
            SKIN,
            0.09,
        ),
        Part(outline("-8.5,166 -8,176 2,181 11,177 12.5,171.5 20,169.5 11,169 0,169"), vest, 0.07),
        Part(outline("-6,168 0,169 0,160 -5,157"), (40, 56, 72), 0, soft=0.01),
    ]
    return build(parts, None, fur=0.05)


def _walker(leg: float, arm: float, layer: int) -> list[Part]:
    """A leg and the arm of its side, which swings against it."""
    thigh = turned(f32([[0, 0.92], [0.02, 0.50]]), (0, 0.92), leg)
    bent = leg - (0.5 if leg < 0 else 0.05)
    heel = thigh[1] + turned(f32([[-0.01, -0.42]]), (0, 0), bent)[0]
    if leg >= 0:
        heel[1] = min(heel[1], 0.09)
    boot = heel + f32([[-0.05, -0.05], [0.05, -0.055], [0.19, -0.06]])
    sleeve = turned(f32([[-0.02, 1.40], [-0.04, 1.14]]), (-0.02, 1.40), arm * 0.8)
    hand = sleeve[1] + turned(f32([[0.06, -0.24]]), (0, 0), arm * 0.8 + 0.35)[0]
    palm = hand + f32([[-0.045, -0.03], [0, 0.02], [0.045, -0.03], [0, -0.08]])
    return [
        Part(limb(np.vstack([thigh, heel]), f32([0.21, 0.155, 0.13])), OLIVE, 0.07, layer),
        Part(limb(boot, f32([0.11, 0.105, 0.07])), BOOT, 0.04, layer),
        Part(limb(np.vstack([sleeve, hand]), f32([0.14, 0.11, 0.085])), OLIVE, 0.05, layer),
        Part(blob(palm), SKIN, 0.02, layer),
    ]
