"""camsign: from trail-camera cards and sign to where a mature buck beds, and how sure that is.

`camsign.open(DIR)` gives the logbook in DIR with the questions as methods. Only that name is
public; it is loaded when asked for, so that `import camsign` costs nothing.
"""

from __future__ import annotations

from typing import Any

__version__ = "0.1.0"
__all__ = ["__version__", "open"]


def __getattr__(name: str) -> Any:
    """Load the public function when it is first asked for."""
    if name == "open":
        from camsign.api import open_logbook

        return open_logbook
    raise AttributeError(f"module 'camsign' has no attribute {name!r}")
