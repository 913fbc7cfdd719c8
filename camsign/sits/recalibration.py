"""What is said of a chance after trial: logit of the played chance, moved and drawn in.

Cox's recalibration (D. R. Cox 1958, Two further applications of a model for binary regression,
Biometrika 45:562-565). Its constants and how they were fitted are in recalibration.toml;
`python tests/accuracy_sits.py FIRST LAST` fits them anew.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from camsign.arrays import Floats

FILE = Path(__file__).with_name("recalibration.toml")
# A played chance under this is as good as none: 600 evenings do not tell smaller ones apart.
LEAST = 0.001


@dataclass(frozen=True, slots=True)
class Recalibration:
    """logit(said) = intercept + slope * logit(played), and how far off the two may be.

    `apart`: how far one stand's own chance lies from what is said, as a factor (standard deviation
    of its logarithm): nobody knows just where between the trees he walks.
    """

    intercept: float
    slope: float
    covariance: tuple[tuple[float, float], tuple[float, float]]
    apart: float


@cache
def kept() -> Recalibration:
    """The constants in use."""
    found = tomllib.loads(FILE.read_text(encoding="utf-8"))
    (a, b), (c, d) = found["covariance"]
    return Recalibration(found["intercept"], found["slope"], ((a, b), (c, d)), found["apart"])


def recalibrated(played: Floats, by: Recalibration, own: Floats) -> Floats:
    """Give draws of what is said from draws of a played chance.

    Their mean is what the constants make of the mean. Two doubts widen them: that of the constants,
    the same in every call, so that two stands are compared under the same ones, and the stand's
    own, drawn from `own`, standard normal.
    """
    doubt = np.random.default_rng(58).multivariate_normal((0.0, 0.0), by.covariance, len(played))
    draws = _moved(played, by.intercept + doubt[:, 0], by.slope + doubt[:, 1])
    draws = draws * np.exp(by.apart * own)
    mean = _moved(np.mean(played, keepdims=True), by.intercept, by.slope)
    return np.asarray(np.minimum(1.0, draws * (mean / draws.mean())))


def _moved(
    chance: Floats | np.floating, intercept: Floats | float, slope: Floats | float
) -> Floats:
    chance = np.clip(chance, LEAST, 1 - LEAST)
    logit = np.log(chance) - np.log1p(-chance)
    return np.asarray(1 / (1 + np.exp(-intercept - slope * logit)))
