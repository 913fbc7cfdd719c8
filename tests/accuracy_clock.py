"""How right the audit of clocks is, measured on made-up deployments with known errors."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from clock_season import DAY, KINDS, Case, bracketed, case

from camsign.clock.audit import Finding, audit, stretches_of
from camsign.clock.plot_points import put_right
from camsign.clock.verdicts import (
    DRIFTS,
    OFF,
    RESET,
    RIGHT,
    STEPPED,
    TWELVE,
    UNCLEAR,
    WRONG,
    width,
)  # fmt: skip

EXPECTED = {
    "right": {RIGHT},
    "an hour": {OFF},
    "twelve hours": {TWELVE},
    "any offset": {OFF, TWELVE, RIGHT},
    "switch": {STEPPED},
    "drift": {DRIFTS, RIGHT, OFF},
    "reset": {RIGHT, RESET},
}


@dataclass(frozen=True)
class Measured:
    """One judged stretch against the truth, times of day modulo 24 h [min].

    `error` of the offset in the middle of the stretch (before a step); `worst` of any frame's time
    when the finding was taken over.
    """

    kind: str
    bursts: int
    bracketed: bool
    verdict: str
    error: float
    worst: float
    inside: bool
    width: float


def measure(one: Case) -> list[Measured]:
    """Audit one deployment and compare."""
    findings = audit(one.read)
    stretches = list(stretches_of(one.read))
    shots = one.read.shots
    done = []
    for finding, stretch in zip(findings, stretches, strict=True):
        which = np.isin(shots.frame, stretch.shots.frame)
        before = which
        if finding.step_at is not None:
            before = which & (shots.read_s < finding.step_at.timestamp())
        ahead = float(np.median((shots.read_s - one.true_s)[before])) / 60
        if one.kind == "drift":
            ends = np.flatnonzero(which)[[0, -1]]
            ahead = float((shots.read_s - one.true_s)[ends].mean()) / 60
        done.append(_measured(one, finding, which, ahead))
    return done


def _measured(one: Case, finding: Finding, which: np.ndarray, ahead: float) -> Measured:
    bursts = len(np.unique(one.read.shots.burst[which]))
    estimate = finding.offset_minutes
    if estimate.value is None or estimate.low is None or estimate.high is None:
        return Measured(one.kind, bursts, False, finding.verdict, np.nan, np.nan, False, 1440.0)
    day = DAY / 60
    shots = one.read.shots
    right = put_right(finding, shots.read_s[which], shots.shown_s[which])
    left = ((right - one.true_s[which]) / 60 + day / 2) % day - day / 2
    worst = float(np.abs(left).max())
    error = (estimate.value - ahead + day / 2) % day - day / 2
    inside = (ahead - estimate.low) % day <= estimate.high - estimate.low
    good = bracketed(one, which)
    across = width(estimate)
    return Measured(one.kind, bursts, good, finding.verdict, error, worst, inside, across)


def measured(seed: int, n: int, kinds: Iterable[str] = KINDS) -> list[Measured]:
    """Deployments of each kind in turn, n in all."""
    rng = np.random.default_rng(seed)
    kinds = list(kinds)
    return [m for i in range(n) for m in measure(case(rng, kinds[i % len(kinds)]))]


def told(some: list[Measured]) -> list[Measured]:
    """Those with a verdict."""
    return [m for m in some if m.verdict != UNCLEAR and np.isfinite(m.error)]


def good(some: list[Measured]) -> list[Measured]:
    """At least 100 bursts, dawn and dusk bracketed."""
    return [m for m in some if m.bursts >= 100 and m.bracketed]


def share(some: list[Measured], fits: list[bool]) -> str:
    """A share in words."""
    return f"{sum(fits) / len(fits):.1%}" if some else "none"


HEAD = (
    "clocks",
    "stretches",
    "cannot tell",
    "verdict fits",
    "error under 20 min",
    "every frame within 20 min",
    "95% interval holds the truth",
    "median width",
)


def rows(seed: int = 20260101, n: int = 200) -> list[str]:
    """The tables as markdown."""
    everything = measured(seed, n)
    best = good(everything)
    poor = [m for m in everything if m not in best]
    lines = [
        f"{n} deployments, a seventh of each kind; shares are of those with a verdict.",
        "",
        f"| {' | '.join(HEAD)} |",
        "|---" * len(HEAD) + "|",
        _line("**100 bursts or more, dawn and dusk bracketed**", best),
        *(_line(f"· {kind}", [m for m in best if m.kind == kind]) for kind in KINDS),
        _line("**fewer bursts, or dawn or dusk not bracketed**", poor),
        *(_line(f"· {kind}", [m for m in poor if m.kind == kind]) for kind in KINDS),
    ]
    right = measured(seed + 1, 2 * n, ["right"])
    wrong = sum(m.verdict in WRONG for m in right)
    told_of = len(told(right))
    lines += ["", f"Right clocks called wrong: {wrong} of {len(right)} ({told_of} with a verdict)."]
    return lines


def _line(name: str, some: list[Measured]) -> str:
    with_verdict = told(some)
    cells = [
        name,
        str(len(some)),
        share(some, [m.verdict == UNCLEAR for m in some]),
        share(with_verdict, [m.verdict in EXPECTED[m.kind] for m in with_verdict]),
        share(with_verdict, [abs(m.error) < 20 for m in with_verdict]),
        share(with_verdict, [m.worst < 20 for m in with_verdict]),
        share(with_verdict, [m.inside for m in with_verdict]),
        f"{np.median([m.width for m in with_verdict]):.0f} min" if with_verdict else "",
    ]
    return f"| {' | '.join(cells)} |"


if __name__ == "__main__":
    print("\n".join(rows()))
