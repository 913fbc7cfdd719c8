"""Handwriting: rubs whose marks recur, linked as one habit, which a buck may own.

Common practice, no source: a buck rubs as his antlers and neck let him, so nicks above, punctures
on the far side or always tall rubs may come back. A link is said by a person; a proposal only tells
which marks come together more often than they would by themselves.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from camsign.errors import UsageError
from camsign.logbook import named, naming
from camsign.logbook.edits import Edit, SetFields, new_id
from camsign.logbook.named import known_bucks
from camsign.logbook.session import Session
from camsign.logbook.things import HABIT
from camsign.sign.record import standing_sign
from camsign.sign.size import LONG_TINES_M
from camsign.units import counted

LEAST_RUBS = 3
LEAST_MARKS = 2
# A proposal must be rarer than this by chance, over all sets of marks that were looked at.
LEAST_LIKELY = 0.05


@dataclass(frozen=True, slots=True)
class Habit:
    """A habit: its rubs, and the buck who people say it is."""

    habit: str
    name: str
    buck: str | None
    buck_id: str | None
    signs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class HabitProposal:
    """Marks that recur on `signs`: how many rubs would show them by themselves, and how likely so
    many are by chance (`p`, over all sets of marks)."""

    marks: tuple[str, ...]
    signs: tuple[str, ...]
    expected: float
    p: float


def link_rubs(session: Session, rubs: Sequence[str], habit: str) -> Habit:
    """Say that rubs show one habit, known or new by its name.

    Raises:
        UsageError: no rub, an unknown one, or something that is no rub.
    """
    ids = [_rub(session, sign) for sign in dict.fromkeys(rubs)]
    if not ids:
        raise UsageError("no rub was named")
    known = named.names(session, HABIT)
    kept = naming.cleaned(habit, "habit")
    one = next((h for h, n in known.items() if naming.key(n) == naming.key(kept)), None)
    edits: list[Edit] = []
    if one is None:
        one = new_id("h")
        edits.append(SetFields("habit", one, {"name": kept}))
    edits += [SetFields("sign", sign, {"habit": one}) for sign in ids]
    session.say(f"linked {counted(len(ids), 'rub')} as {known.get(one, kept)}", edits)
    new = Habit(one, kept, None, None, ())
    before = {h.habit: h for h in habits(session)}.get(one, new)
    return replace(before, signs=tuple(dict.fromkeys([*before.signs, *ids])))


def unlink_rubs(session: Session, rubs: Sequence[str]) -> list[str]:
    """Take rubs out of the habits that they show, and give their ids. Raises UsageError."""
    ids = [_rub(session, sign) for sign in dict.fromkeys(rubs)]
    edits: list[Edit] = [SetFields("sign", sign, {"habit": None}) for sign in ids]
    session.say(f"took {counted(len(ids), 'rub')} out of habits", edits)
    return ids


def give_habit(session: Session, habit: str, buck: str | None = None) -> Habit:
    """Say whose habit it is (a buck by name or id), or with None that nobody knows.

    Raises:
        UsageError: there is no such habit or buck.
    """
    found = naming.find(named.names(session, HABIT), habit, "habit")
    bucks = known_bucks(session)
    owner = bucks.find(buck) if buck is not None else None
    now = next(h for h in habits(session) if h.habit == found)
    whose = bucks.name(owner) if owner else "nobody known"
    session.say(f"gave {now.name} to {whose}", [SetFields("habit", found, {"buck": owner})])
    return Habit(found, now.name, bucks.name(owner) if owner else None, owner, now.signs)


def habits(session: Session) -> list[Habit]:
    """Give the habits that stand, by name, with their rubs."""
    rows = session.con.execute(
        """SELECT h.habit, h.name, n.name, n.buck_id,
            list(s.sign ORDER BY s.sign) FILTER (s.sign IS NOT NULL)
        FROM habits h LEFT JOIN bucks_now n ON n.buck = h.buck
        LEFT JOIN signs s ON s.habit = h.habit AND s.gone IS NOT TRUE
        WHERE h.gone IS NOT TRUE GROUP BY ALL ORDER BY h.name, h.habit"""
    ).fetchall()
    return [
        Habit(h, name, buck, buck_id, tuple(signs or ())) for h, name, buck, buck_id, signs in rows
    ]


def propose_habits(session: Session) -> list[HabitProposal]:
    """Give sets of marks that recur on rubs more often than by chance, the clearest first."""
    rows = session.con.execute(
        "SELECT g.sign, g.measures FROM sightings g JOIN signs s USING (sign)"
        " WHERE s.kind = 'rub' AND s.gone IS NOT TRUE AND g.gone IS NOT TRUE"
        " AND g.measures IS NOT NULL ORDER BY g.sign, g.seen_on"
    ).fetchall()
    waist = session.settings.waist_m
    return proposals_from({sign: marks_of(json.loads(m), waist) for sign, m in rows})


def marks_of(measures: Mapping[str, Any], waist: float) -> frozenset[str]:
    """Give what a rub shows that may recur: its marks and damage, tall, long tines."""
    found = {*measures.get("marks", ()), *measures.get("damage", ())}
    top, tine = measures.get("top_m"), measures.get("tine_m")
    if top and top >= waist:
        found.add("tall")
    if top and tine and tine - top >= LONG_TINES_M:
        found.add("long tines")
    return frozenset(found)


def proposals_from(rubs: Mapping[str, frozenset[str]]) -> list[HabitProposal]:
    """Compare how often each whole set of marks occurs with what its marks would give by chance.

    By chance the marks of a rub are independent, each as frequent as over all rubs that show any.
    The probability of so many rubs is binomial, times the number of sets looked at (Bonferroni).
    """
    from scipy.special import bdtrc

    shown = {sign: marks for sign, marks in rubs.items() if marks}
    each = Counter(mark for marks in shown.values() for mark in marks)
    sets = Counter(marks for marks in shown.values() if len(marks) >= LEAST_MARKS)
    found = []
    for marks, n in sets.items():
        if n < LEAST_RUBS:
            continue
        chance = 1.0
        for mark, count in sorted(each.items()):  # a product in one order, to the last digit
            share = count / len(shown)
            chance *= share if mark in marks else 1 - share
        p = min(float(bdtrc(n - 1, len(shown), chance)) * len(sets), 1.0)
        if p <= LEAST_LIKELY:
            signs = tuple(s for s, m in shown.items() if m == marks)
            found.append(HabitProposal(tuple(sorted(marks)), signs, chance * len(shown), p))
    return sorted(found, key=lambda h: (h.p, h.marks))


def _rub(session: Session, sign: str) -> str:
    found, kind, *_ = standing_sign(session, sign)
    if kind != "rub":
        raise UsageError(f"{sign} is a {kind}", "only rubs show a habit")
    return found
