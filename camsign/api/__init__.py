"""What `camsign.open(DIR)` gives: one logbook, its verbs, and its questions as DataFrames.

A verb is one act in the journal, as the command of its name; a question opens the logbook briefly
and gives a pandas DataFrame whose `attrs` hold `why`, `method` and `watch`, and as `answer` what is
not a row. Dtypes are always the same (`camsign.answers.framed`): `utc` is in UTC, other times on
the property's clock, both tz-aware; days are dates. Columns are named and explained in
docs/json.md; their units are in their names (`_m` meters, `_deg` degrees true, `_s` seconds).
"""

from __future__ import annotations

from pathlib import Path

from camsign.api.asking import Asking
from camsign.api.handing import Handing
from camsign.api.keeping import Keeping
from camsign.api.listing import Listing
from camsign.api.opened import Bounds
from camsign.api.saying import Saying
from camsign.logbook import folder as folders

__all__ = ["Bounds", "Logbook", "open_logbook", "start_logbook"]


class Logbook(Asking, Listing, Saying, Keeping, Handing):
    """One logbook. Texts are as on the command line: "44.6,-71.2", "2025-08-10", "NE", "120M".

    Asking: `near`, `visits`, `when`, `bedding`, `where`, `rivals`, `makers`, `compare`, `lately`,
    `tonight`, `review`, `hang_next`, `pressure`, `wind_beds`, `sql`. Listing: `frames`, `cards`,
    `deployments`, `bucks`, `areas`, `places`, `signs`, `sits`, `history` and others. Saying:
    `hang`, `tag`, `set_clock`, `say`, `undo` and others. Keeping: `ingest`, `look`, `verify`,
    `backup`, `merge`, `thin`.
    Handing on: `map`, `chart`, `report`, `export_points`, `export_tables` and others.

    Every method raises UsageError (`camsign.errors`) for words that are not understood, LogbookBusy
    where another program holds the logbook longer than CAMSIGN_WAIT seconds.
    """


def open_logbook(path: str | Path) -> Logbook:
    """Open the logbook in a folder. Raises UsageError if it holds none."""
    return Logbook(folders.find(Path(path), Path.cwd()))


def start_logbook(
    path: str | Path, home: str | None = None, units: str = "imperial", tz: str | None = None
) -> Logbook:
    """Start a logbook; see `camsign.start`."""
    from camsign.flows.fieldwork.starting import start

    return open_logbook(start(Path(path), home, units, tz).logbook)
