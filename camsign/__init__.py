"""camsign: from trail-camera cards and sign to where a mature buck beds, and how sure that is.

`camsign.open(DIR)` gives the logbook in DIR with the questions as methods, `open_many([DIR, ...])`
several of them, `open_lake(DIR)` what `export lake` wrote. Only these names are public; they are
loaded when asked for, so that `import camsign` costs nothing.
"""

from __future__ import annotations

from typing import Any

__version__ = "0.1.0"
__all__ = ["__version__", "open", "open_lake", "open_many"]


def __getattr__(name: str) -> Any:
    """Load the public function when it is first asked for."""
    if name == "open":
        from camsign.api import open_logbook

        return open_logbook
    if name in ("open_lake", "open_many"):
        from camsign import many

        return getattr(many, name)
    raise AttributeError(f"module 'camsign' has no attribute {name!r}")
