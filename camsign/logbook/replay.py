"""From journal lines to the state they say, as a set: the order of their arrival never matters.

Only what new lines touch is computed again. Every edit has a stamp (clock, writer, place in its
line), the greatest stamp wins, and lines that a later act took back count as never said.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from camsign.logbook import journal
from camsign.logbook.database import insert_rows, run_sql
from camsign.logbook.edits import NOTHING, Subject
from camsign.logbook.things import FIELDS, TABLES

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

CLEAR, CLEAR_OWN = "*", "*own"
_ACT = ("act", "writer", "n", "said", "what", "undone")
_SAID = ("what", "buck", "species", "sex", "stage", "count", "travel_deg", "sure")
_UNSAID = (None,) * len(_SAID)
# Which derived rows hang on a thing: the kind written to `touched`, and the column that names it.
_TOUCHES = {
    "deployment": ("camera", "camera"),
    "outage": ("camera", "camera"),
    "clock_fix": ("camera", "camera"),
    "card": ("camera", "camera"),
    "sign": ("sign", "sign"),
    "sighting": ("sign", "sign"),
    "area": ("area", "area"),
    "buck": ("buck", "buck"),
}


class _Rows:
    """Lines spread out into columns for one insert; those of acts that are `known` are left out."""

    def __init__(self, known: set[str]) -> None:
        self._known = known
        self.acts: list[tuple[Any, ...]] = []
        self.fields: list[tuple[str, ...]] = []
        self.tags: list[tuple[Any, ...]] = []
        self.troubles: list[tuple[int, str]] = []

    def take(self, line: journal.Line) -> None:
        """Spread one line."""
        if line.act in self._known:
            return
        self._known.add(line.act)
        if line.version > journal.VERSION:
            self.troubles.append((line.number, "is of a newer version of camsign"))
            return
        undoes: list[str] = []
        for i, edit in enumerate(line.edits):
            stamp, act = f"{line.at}/{line.writer}/{i:06d}", line.act
            if "set" in edit:
                for name, value in edit["to"].items():
                    text = json.dumps(value, ensure_ascii=False)
                    self.fields.append((edit["set"], edit["id"], name, text, stamp, act))
            elif "tag" in edit:
                said = tuple(map(edit["tag"].get, _SAID))
                if said[0] == NOTHING:
                    clear = CLEAR_OWN if edit["tag"].get("own") else CLEAR
                    self._frames(edit["frames"], clear, True, _UNSAID, stamp, act)
                    stamp += "+"
                self._frames(edit["frames"], _key(*said[:5]), False, said, stamp, act)
            elif "untag" in edit:
                subject = edit["untag"] or CLEAR
                self._frames(edit["frames"], subject, True, _UNSAID, stamp, act)
            elif "undo" in edit:
                undoes += edit["undo"]
            else:
                what = f"says {sorted(edit)}, which is not known here"
                self.troubles.append((line.number, what))
        self.acts.append((line.act, line.writer, line.n, line.at, line.what, False, undoes))

    def _frames(
        self, frames: list[str], key: str, gone: bool, said: tuple[Any, ...], stamp: str, act: str
    ) -> None:
        cells = (key, gone, *said, stamp, act)
        self.tags += [(frame, *cells) for frame in frames]


@lru_cache(4096)
def _key(*subject: Any) -> str:
    """Give the key of a subject, once however many lines speak of it."""
    return Subject(*subject).key


def take_lines(con: DuckDBPyConnection, file: str, lines: Iterable[journal.Line]) -> None:
    """Add new lines of one journal file and bring the things and tags they touch up to date."""
    lines = list(lines)
    rows = _Rows(_known(con, lines))
    for line in lines:
        rows.take(line)
    tables = ("field_edits", "tag_edits")
    cells = ", ".join(f"(SELECT coalesce(max(rowid), -1) FROM {name})" for name in tables)
    (ends,) = con.execute(f"SELECT {cells}").fetchall()
    # Lists go in slowly, and hardly any line undoes another.
    insert_rows(con, "acts", [a for a in rows.acts if a[-1]], (*_ACT, "undoes"))
    insert_rows(con, "acts", [a[:-1] for a in rows.acts if not a[-1]], _ACT)
    insert_rows(con, "field_edits", rows.fields)
    insert_rows(con, "tag_edits", rows.tags)
    insert_rows(con, "troubles", [(file, *trouble) for trouble in rows.troubles])
    run_sql(con, __file__, "fresh.sql", **dict(zip(tables, ends, strict=True)))
    if turned := _turn(con, rows.acts):
        run_sql(con, __file__, "fresh_turned.sql", turned=turned)
    con.execute(
        "INSERT INTO changed SELECT thing, NULL FROM fresh_things"
        " UNION ALL SELECT NULL, frame FROM fresh_frames"
    )
    things = con.execute("SELECT DISTINCT thing FROM fresh_things").fetchall()
    if things:
        run_sql(con, __file__, "things.sql")
    for (thing,) in things:
        if thing in FIELDS:
            _refresh_thing(con, thing)
    retag(con)


def _known(con: DuckDBPyConnection, lines: Sequence[journal.Line]) -> set[str]:
    """Give the acts among these that are there already, from a copy of the same line.

    A line whose number was not read yet is new: none has to be looked for.
    """
    read: dict[str, list[tuple[int, int]]] = defaultdict(list)
    for writer, first, last in con.execute("FROM lines_read").fetchall():
        read[writer].append((first, last))
    seen = [x.act for x in lines if any(a <= x.n <= b for a, b in read.get(x.writer, ()))]
    if not seen:
        return set()
    rows = con.execute("SELECT act FROM acts WHERE act IN (SELECT unnest(?::VARCHAR[]))", [seen])
    return {act for (act,) in rows.fetchall()}


def _turn(con: DuckDBPyConnection, new: list[tuple[Any, ...]]) -> list[str]:
    """Work out anew which acts are undone; give those for which that changed."""
    undone_by = con.execute("SELECT unnest(undoes) FROM acts WHERE undoes IS NOT NULL").fetchall()
    if {act for (act,) in undone_by}.isdisjoint(a[0] for a in new) and not any(a[-1] for a in new):
        return []
    rows = con.execute(
        "SELECT act, undoes, undone FROM acts "
        "WHERE undoes IS NOT NULL OR undone OR act IN (SELECT unnest(undoes) FROM acts) "
        "ORDER BY said DESC, writer DESC"
    ).fetchall()
    undone: dict[str, bool] = defaultdict(bool)
    # The latest word first: it alone decides whether an earlier one stands.
    for act, undoes, _ in rows:
        if not undone[act]:
            for target in undoes or ():
                undone[target] = True
    changed = [act for act, _, was in rows if undone[act] != was]
    if changed:
        con.execute(
            "UPDATE acts SET undone = NOT undone WHERE act IN (SELECT unnest(?::VARCHAR[]))",
            [changed],
        )
    return changed


def retag(con: DuckDBPyConnection) -> None:
    """Make the tags of the frames in the table `fresh_frames` again."""
    if not con.execute("SELECT 1 FROM fresh_frames LIMIT 1").fetchone():
        return
    con.execute("DELETE FROM tags WHERE frame IN (SELECT frame FROM fresh_frames)")
    run_sql(con, __file__, "tags.sql")
    con.execute("INSERT INTO touched SELECT 'frame', frame FROM fresh_frames")


def _refresh_thing(con: DuckDBPyConnection, thing: str) -> None:
    """Put a kind's fresh things anew, and note what hangs on them, as they were and as they are."""
    table, key = TABLES[thing], thing
    kind, column = _TOUCHES.get(thing, ("", key))
    hung = _cameras_of_cards(con) if thing == "card" else set()
    fresh = "(SELECT id FROM fresh_things WHERE thing = ?)"
    gone = con.execute(f"DELETE FROM {table} WHERE {key} IN {fresh} RETURNING {column}", [thing])
    hung |= {one for (one,) in gone.fetchall()}
    cells = ", ".join(_cell(name, sort) for name, sort in FIELDS[thing].items())
    words = "(SELECT * FROM last_words WHERE thing = ?)"
    sql = f"INSERT INTO {table} SELECT id, {cells} FROM {words} GROUP BY id RETURNING {column}"
    hung |= {one for (one,) in con.execute(sql, [thing]).fetchall()}
    if thing == "card":
        hung |= _cameras_of_cards(con)
    if kind:
        insert_rows(con, "touched", [(kind, one) for one in sorted(filter(None, hung))])


def _cameras_of_cards(con: DuckDBPyConnection) -> set[str | None]:
    """Whose the fresh cards are at this moment."""
    fresh = "SELECT id FROM fresh_things WHERE thing = 'card'"
    rows = con.execute(f"SELECT camera FROM cards_now WHERE card IN ({fresh})")
    return {camera for (camera,) in rows.fetchall()}


def _cell(name: str, kind: str) -> str:
    value = f"any_value(value) FILTER (field = '{name}')"
    if kind == "JSON":
        return f"nullif({value}, 'null')::JSON"
    if kind.endswith("[]"):
        return f"""from_json({value}, '["{kind[:-2]}"]')"""
    return f"TRY_CAST(json_extract_string({value}, '$') AS {kind})"
