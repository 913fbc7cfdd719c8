"""Second step: the small picture sent by radio and the full one on the card are one frame."""

from __future__ import annotations

from camsign.derive.script import run
from camsign.logbook.replay import retag
from camsign.logbook.session import Session


def pair_radio_copies(session: Session) -> None:
    """Bring `frame_twins` up to date for the new cameras, and the tags of what it pairs or parts.

    The order in which the two came in never matters; a small one without its full one counts.
    """
    run(session.con, "radio_copies")
    retag(session.con)
