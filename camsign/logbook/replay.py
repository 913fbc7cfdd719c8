"""From journal lines to the state they say, as a set: the order of their arrival never matters.

Only what new lines touch is computed again. Every edit has a stamp (clock, writer, place in its
line), the greatest stamp wins, and lines that a later act took back count as never said.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from camsign.logbook import journal
from camsign.logbook.database import insert_columns, run_script, sql_beside
from camsign.logbook.edits import NOTHING, Subject
from camsign.logbook.things import FIELDS, TABLES

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

CLEAR = "*"
_TAG_TYPES = {
    "frame": "VARCHAR",
    "subject": "VARCHAR",
    "gone": "BOOLEAN",
    "what": "VARCHAR",
    "buck_id": "VARCHAR",
    "species": "VARCHAR",
    "sex": "VARCHAR",
    "stage": "VARCHAR",
    "count": "INTEGER",
    "travel_deg": "DOUBLE",
    "sure": "VARCHAR",
    "stamp": "VARCHAR",
    "act": "VARCHAR",
}
_FIELD_TYPES = dict.fromkeys(("thing", "id", "field", "value", "stamp", "act"), "VARCHAR")
_ACT_TYPES = {
    "act": "VARCHAR",
    "writer": "VARCHAR",
    "n": "BIGINT",
    "said": "VARCHAR",
    "what": "VARCHAR",
    "undone": "BOOLEAN",
    "undoes": "VARCHAR[]",
}
_SAID = ("what", "buck", "species", "sex", "stage", "count", "travel_deg", "sure")
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
    """Edits spread out into columns for one insert."""

    def __init__(self) -> None:
        self.fields: dict[str, list[Any]] = {k: [] for k in _FIELD_TYPES}
        self.tags: list[tuple[Any, ...]] = []
        self.troubles: list[tuple[int, str]] = []

    def tell(self, line: journal.Line, what: str) -> None:
        """Note that a line was not understood, or only in part."""
        self.troubles.append((line.number, what))

    def take(self, line: journal.Line) -> list[str]:
        """Spread one line; give the acts it takes back."""
        undoes: list[str] = []
        for i, edit in enumerate(line.edits):
            stamp = f"{line.at}/{line.writer}/{i:06d}"
            if "set" in edit:
                self._set(edit, stamp, line.act)
            elif "tag" in edit:
                self._tag(edit, stamp, line.act)
            elif "untag" in edit:
                subject = edit["untag"] or CLEAR
                self._frames(edit["frames"], subject, True, {}, stamp, line.act)
            elif "undo" in edit:
                undoes += edit["undo"]
            else:
                self.tell(line, f"says {sorted(edit)}, which is not known here")
        return undoes

    def _set(self, edit: dict[str, Any], stamp: str, act: str) -> None:
        for name, value in edit["to"].items():
            text = json.dumps(value, ensure_ascii=False)
            row = (edit["set"], edit["id"], name, text, stamp, act)
            for column, cell in zip(self.fields.values(), row, strict=True):
                column.append(cell)

    def _tag(self, edit: dict[str, Any], stamp: str, act: str) -> None:
        tag = edit["tag"]
        if tag["what"] == NOTHING:
            self._frames(edit["frames"], CLEAR, True, {}, stamp, act)
            stamp += "+"
        subject = Subject(
            tag["what"], tag.get("buck"), tag.get("species"), tag.get("sex"), tag.get("stage")
        )
        self._frames(edit["frames"], subject.key, False, tag, stamp, act)

    def _frames(
        self, frames: list[str], key: str, gone: bool, tag: dict[str, Any], stamp: str, act: str
    ) -> None:
        said = map(tag.get, _SAID)
        cells = (key, gone, *said, stamp, act)
        self.tags += [(frame, *cells) for frame in frames]


def take_lines(con: DuckDBPyConnection, file: str, lines: Iterable[journal.Line]) -> None:
    """Add new lines of one journal file and bring the things and tags they touch up to date."""
    lines = list(lines)
    known = _known(con, lines)
    rows, acts = _Rows(), []
    for line in lines:
        if line.act in known:
            continue
        known.add(line.act)
        if line.version > journal.VERSION:
            rows.tell(line, "is of a newer version of camsign")
            continue
        undoes = rows.take(line)
        acts.append((line.act, line.writer, line.n, line.at, line.what, False, undoes))
    last = {name: _last_row(con, name) for name in ("field_edits", "tag_edits")}
    # Lists go in slowly, and hardly any line undoes another.
    _insert(con, "acts", [a for a in acts if a[-1]], _ACT_TYPES)
    _insert(con, "acts", [a[:-1] for a in acts if not a[-1]], _ACT_TYPES)
    if rows.fields["id"]:
        insert_columns(con, "field_edits", rows.fields, _FIELD_TYPES)
    _insert(con, "tag_edits", rows.tags, _TAG_TYPES)
    for number, what in rows.troubles:
        con.execute("INSERT INTO troubles VALUES (?, ?, ?)", [file, number, what])
    _refresh(con, last, _turn(con, acts))


def _insert(
    con: DuckDBPyConnection, table: str, rows: list[tuple[Any, ...]], types: dict[str, str]
) -> None:
    """Insert rows of the first of these columns, or of all."""
    if rows:
        columns = dict(zip(types, map(list, zip(*rows, strict=True)), strict=False))
        insert_columns(con, table, columns, {name: types[name] for name in columns})


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


def _last_row(con: DuckDBPyConnection, table: str) -> int:
    ((row,),) = con.execute(f"SELECT coalesce(max(rowid), -1) FROM {table}").fetchall()
    return int(row)


def _turn(con: DuckDBPyConnection, new: list[tuple[Any, ...]]) -> list[str]:
    """Work out anew which acts are undone; give those for which that changed."""
    undone_by = con.execute("SELECT unnest(undoes) FROM acts WHERE len(undoes) > 0").fetchall()
    if {act for (act,) in undone_by}.isdisjoint(a[0] for a in new) and not any(a[-1] for a in new):
        return []
    rows = con.execute(
        "SELECT act, undoes, undone FROM acts "
        "WHERE len(undoes) > 0 OR undone OR act IN (SELECT unnest(undoes) FROM acts) "
        "ORDER BY said DESC, writer DESC"
    ).fetchall()
    undone: dict[str, bool] = defaultdict(bool)
    for (
        act,
        undoes,
        _,
    ) in rows:  # the latest word first: it alone decides whether an earlier one stands
        if not undone[act]:
            for target in undoes:
                undone[target] = True
    changed = [act for act, _, was in rows if undone[act] != was]
    if changed:
        con.execute(
            "UPDATE acts SET undone = NOT undone WHERE act IN (SELECT unnest(?::VARCHAR[]))",
            [changed],
        )
    return changed


def _refresh(con: DuckDBPyConnection, last: dict[str, int], turned: list[str]) -> None:
    """Bring up to date what rows behind the last of each table say, and acts that were turned."""
    con.execute(
        "CREATE OR REPLACE TEMP TABLE turned AS SELECT unnest(?::VARCHAR[]) AS act", [turned]
    )
    run_script(con, sql_beside(__file__, "fresh.sql"), last)
    things = con.execute("SELECT DISTINCT thing FROM fresh_things").fetchall()
    if things:
        con.execute(sql_beside(__file__, "things.sql"))
    for (thing,) in things:
        if thing in FIELDS:
            _refresh_thing(con, thing)
    retag(con)


def retag(con: DuckDBPyConnection) -> None:
    """Make the tags of the frames in the table `fresh_frames` again."""
    if not con.execute("SELECT 1 FROM fresh_frames LIMIT 1").fetchone():
        return
    con.execute("DELETE FROM tags WHERE frame IN (SELECT frame FROM fresh_frames)")
    con.execute(sql_beside(__file__, "tags.sql"))
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
    ids = sorted(one for one in hung if one is not None)
    if kind and ids:
        columns: dict[str, list[str]] = {"kind": [kind] * len(ids), "id": ids}
        insert_columns(con, "touched", columns, {"kind": "VARCHAR", "id": "VARCHAR"})


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
