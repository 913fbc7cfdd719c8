"""Last step: how many pictures of each night nobody has looked at yet."""

from __future__ import annotations

from camsign.derive.script import run
from camsign.logbook.session import Session


def fill_unsorted(session: Session) -> None:
    """Bring `unsorted` up to date with the frames, tags and batches that are new.

    A picture set aside as likely empty counts as looked at: 99 of 100 animals are kept
    (docs/pixels.md), and answers say how many nights rest on that.
    """
    run(session.con, "unsorted")
