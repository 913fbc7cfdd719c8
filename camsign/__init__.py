"""camsign: from trail-camera cards and sign to where a mature buck beds, and how sure that is.

A tour, for a notebook on a machine that has a logbook:

    import camsign

    book = camsign.open("hollow")             # start("hollow", home="44.6,-71.2") makes a new one
    book.ingest("/media/me/CARD")             # cards in: copied, read back, then safe to wipe
    book.take_files("handheld.gpx")           # cameras, sign, stands, areas by their words
    frames = book.frames(untagged=True)       # a pandas DataFrame, times right and tz-aware
    book.tag("Old Quarrel", frames["frame"][:2])
    visits = book.visits(area="Brindle Knob")
    visits[["buck", "visits", "per_100_nights", "per_100_nights_low", "per_100_nights_high"]]
    visits.attrs["why"]                       # the reasons; also method and watch
    book.bedding("Brindle Knob").attrs["answer"]["said"]
    frames.merge(book.near(), on="utc")       # every frame joins on utc
    book.sql("SELECT buck, count(*) AS n FROM detections GROUP BY buck")
    book.map("gore.png", verdicts=True)
    book.export_tables("data")                # Parquet that needs no camsign to be read
    camsign.open_many(["hollow", "gore"]).visits()   # several side by side, a column `property`
    camsign.open_lake("lake").compare()              # what `export lake` wrote

`help(camsign.Logbook)` lists every question and verb. Numbers are SI, places WGS 84, bearings
degrees true. Absence of pictures is not absence of the buck. What it loads, it loads when a
function is called: `import camsign` costs nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pathlib import Path

    from camsign.api import Logbook
    from camsign.many import open_lake as open_lake
    from camsign.many import open_many as open_many

__version__ = "0.1.0"
__all__ = ["Logbook", "__version__", "open", "open_lake", "open_many", "start"]


def open(path: str | Path) -> Logbook:
    """Open the logbook in a folder, or in one above it.

    Args:
        path: the folder.

    Raises:
        camsign.errors.UsageError: there is none.
    """
    from camsign.api import open_logbook

    return open_logbook(path)


def start(
    path: str | Path, home: str | None = None, units: str = "imperial", tz: str | None = None
) -> Logbook:
    """Start a logbook in a folder, which is made.

    Args:
        path: the folder.
        home: the middle of the property as "44.615,-71.235" [deg, WGS 84].
        units: imperial or metric, for lengths that are shown.
        tz: its time zone, such as "America/New_York"; that of home by default.

    Raises:
        camsign.errors.UsageError: there is one already, or a word is not understood.
    """
    from camsign.api import start_logbook

    return start_logbook(path, home, units, tz)


def __getattr__(name: str) -> Any:
    """Load what needs more than this file when it is first asked for."""
    if name == "Logbook":
        from camsign.api import Logbook

        return Logbook
    if name in ("open_lake", "open_many"):
        from camsign import many

        return getattr(many, name)
    raise AttributeError(f"module 'camsign' has no attribute {name!r}")


def __dir__() -> list[str]:
    """Name also what is loaded only when it is asked for."""
    return sorted({*globals(), "Logbook", "open_lake", "open_many"})
