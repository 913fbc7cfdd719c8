"""Rows as a pandas DataFrame with one dtype a column, whatever is in it and also where no row is.

Times are tz-aware: `utc`, and what ends in `_utc`, in UTC, all others on the clock of the place,
each of one dtype, so that frames join on them. Days are Python dates, numbers float64, counts int64
(Int64 where one may be missing), yes and no bool (boolean likewise), texts str.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields, is_dataclass
from typing import Any, Literal

import pandas as pd

from camsign.zones import zone

Kind = Literal["time", "day", "number", "whole", "whole?", "yes", "yes?", "text", "any"]
_SQL: dict[str, Kind] = {
    "TIMESTAMP": "time", "TIMESTAMP WITH TIME ZONE": "time", "DATE": "day", "DOUBLE": "number",
    "FLOAT": "number", "BOOLEAN": "yes?", "VARCHAR": "text", "TINYINT": "whole?",
    "SMALLINT": "whole?", "INTEGER": "whole?", "BIGINT": "whole?",
}  # fmt: skip
_DTYPES = {
    "number": "float64", "whole": "int64", "whole?": "Int64", "yes": "bool", "yes?": "boolean",
    "text": "str", "day": "object", "any": None,
}  # fmt: skip


def kinds_of(row: type) -> dict[str, Kind]:
    """Give the columns of flat rows of a dataclass, each with its kind; spare ones too."""
    found: dict[str, Kind] = {}
    for f in fields(row) if is_dataclass(row) else ():
        said = str(f.type)
        if said.startswith(("Figure", "Estimate")):
            found |= dict.fromkeys((f.name, f"{f.name}_low", f"{f.name}_high"), "number")
            if said.startswith("Figure"):
                found |= {f"{f.name}_n": "whole?", f"{f.name}_method": "text"}
        else:
            found[f.name] = _kind(said)
    return found


def kind_of_sql(name: str) -> Kind:
    """Give the kind of a DuckDB type."""
    return "number" if name.startswith("DECIMAL") else _SQL.get(name, "any")


def _kind(said: str) -> Kind:
    """The kind of an annotation; lists and mappings are one text in flat rows."""
    spare = "None" in said
    for start, kind in (("datetime", "time"), ("date", "day"), ("float", "number")):
        if said.startswith(start):
            return kind  # type: ignore[return-value]
    if said.startswith("int"):
        return "whole?" if spare else "whole"
    if said.startswith("bool"):
        return "yes?" if spare else "yes"
    return "text" if said.startswith(("str", "tuple", "list", "dict", "Literal")) else "any"


def framed(
    rows: Sequence[Mapping[str, Any]], kinds: Mapping[str, Kind], tz: str,
    columns: Iterable[str] | None = None,
) -> pd.DataFrame:  # fmt: skip
    """Give flat rows as a DataFrame.

    Args:
        rows: what is in each, by column.
        kinds: of columns; one that is missing gets the dtype of what is in it.
        tz: the zone of the place, for times that are not named UTC.
        columns: their order; else that of the rows.
    """
    names = list(columns if columns is not None else dict.fromkeys(n for r in rows for n in r))
    made = {n: _column([r.get(n) for r in rows], kinds.get(n, "any"), n, tz) for n in names}
    return pd.DataFrame(made, columns=names)


def _column(values: list[Any], kind: Kind, name: str, tz: str) -> pd.Series[Any]:
    if kind != "time":
        return pd.Series(values, dtype=_DTYPES[kind])
    moments = pd.Series(pd.to_datetime(values, utc=True)).astype("datetime64[us, UTC]")
    return moments if is_utc(name) else moments.dt.tz_convert(zone(tz))


def is_utc(name: str) -> bool:
    """Whether a time column of this name is in UTC."""
    return name == "utc" or name.endswith("_utc")
