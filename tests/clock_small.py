"""Invented clocks of every kind, and what the audit says of each: test_clock_small.py keeps it.

`python tests/clock_small.py --write` writes the kept findings anew after a change of what is said.
Look at the difference before you commit it.
"""

from __future__ import annotations

import json
import sys
from dataclasses import asdict, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
from clock_season import KINDS, TZ, Case, case

from camsign.answers.result import plain
from camsign.clock.audit import Finding, audit
from camsign.clock.audit_input import AuditInput
from camsign.clock.plot_points import clock_points
from camsign.clock.proposals import propose
from camsign.clock.rules import ClockFix, ClockPiece, clock_pieces

KEPT = Path(__file__).with_name("clock_small.json")
HOUR = 3600.0


def cases() -> dict[str, Case]:
    """Give each kind with hundreds of frames and with few, and what is odd, by name."""
    found = {}
    for n, kind in enumerate(KINDS):
        frames = 1500 if kind == "drift" else 300
        found[kind] = case(np.random.default_rng([5, n]), kind, frames=frames)
        found[f"{kind}, few"] = case(np.random.default_rng([6, n]), kind, frames=60)
    right = case(np.random.default_rng(8), "right", frames=400)
    found["set anew with the second card"] = _second_card(right, 5 * HOUR)
    found["two cards"] = _second_card(right, 0.0)
    found["white flash"] = _white_flash(right)
    found["hung never"] = replace(right, read=replace(_lost(right.read), deployments=[]))
    found["never dated"] = replace(right, read=_lost(right.read))
    found["no light"] = _changed(right, light=np.full(400, -1))
    found["out of order"] = _out_of_order(right)
    return found


def _changed(one: Case, **columns: Any) -> Case:
    return replace(one, read=replace(one.read, shots=replace(one.read.shots, **columns)))


def _second_card(one: Case, ahead_s: float) -> Case:
    """The later half is on a card of its own, and its clock is so much further ahead."""
    shots, second = one.read.shots, np.arange(400) >= 200
    more = np.where(second, ahead_s, 0.0)
    moved = _changed(one, card=second.astype(np.int64), shown_s=shots.shown_s + more,
                     read_s=shots.read_s + more, file_s=shots.file_s + more)  # fmt: skip
    taken = one.read.taken_in[0]
    return replace(moved, read=replace(moved.read, cards=["k1", "k2"], taken_in=[taken, taken]))


def _white_flash(one: Case) -> Case:
    """All in color; pictures in the dark are darker."""
    return _changed(one, light=np.ones(400, dtype=np.int64))


def _lost(read: AuditInput) -> AuditInput:
    """A clock that began at its maker's date with the first picture."""
    begun = datetime(2019, 1, 1, 0, 4, tzinfo=UTC).timestamp()
    back, lost = read.shots.shown_s[0] - begun, np.full(400, -1)
    shots = replace(read.shots, shown_s=read.shots.shown_s - back, read_s=read.shots.read_s - back,
                    near=lost, deployment=lost)  # fmt: skip
    return replace(read, shots=shots)


def _out_of_order(one: Case) -> Case:
    shown, file_s = one.read.shots.shown_s.copy(), one.read.shots.file_s.copy()
    shown[50:60] -= 600.0
    file_s[100:107] += 4000.0
    fine = np.arange(400) < 30
    return _changed(one, shown_s=shown, file_s=file_s, fine=fine)


def pieces_of(one: Case) -> dict[str, list[ClockPiece]]:
    """The ways in which the deployment's clock may be read when the audit looks at it."""
    hung = one.read.deployments[0] if one.read.deployments else None
    if hung is None:
        return {}
    half = datetime.fromtimestamp(float(np.median(one.read.shots.shown_s)), UTC).replace(
        tzinfo=None
    )
    halves = [ClockFix("c-a", "shift", 60.0, None, half), ClockFix("c-b", "shift", 0.0, half, None)]
    return {
        "hung": clock_pieces(hung, TZ),
        "local": clock_pieces(replace(hung, clock="local"), TZ),
        "corrected": clock_pieces(hung, TZ, halves),
    }


def proposed(one: Case, finding: Finding) -> dict[str, Any]:
    """What is proposed for each way of reading, as the journal would take it.

    The light is weighed in single precision: what rests on a drift is kept to the minute.
    """
    found: dict[str, Any] = {}
    for name, pieces in pieces_of(one).items():
        hung = one.read.deployments[0]
        found[name] = [c.fields(hung) for c in propose(finding, hung, pieces)]
        for fields in found[name] if finding.drift_minutes_per_week is not None else ():
            fields["value"] = [[text[:16] for text in pair] for pair in fields["value"]]
    return found


def told(one: Case) -> dict[str, Any]:
    """Give findings, proposals, and the first and last points of the picture."""
    found = audit(one.read)
    points = [
        {
            name: [float(x[0]), float(x[-1]), float(x.mean())]
            for name in ("hours_before", "height_before", "hours_after", "height_after")
            if len(x := getattr(point, name))
        }
        for point in clock_points(one.read)
    ]
    return {
        "findings": [asdict(f) for f in found], "proposed": [proposed(one, f) for f in found],
        "points": points,
    }  # fmt: skip


def all_told() -> dict[str, Any]:
    """Give that of every case, as JSON."""
    return json.loads(json.dumps(plain({name: told(one) for name, one in cases().items()})))


if __name__ == "__main__" and "--write" in sys.argv:
    from answers_small import written

    KEPT.write_text(written(all_told(), 4) + "\n", encoding="utf-8")
