"""Cards in: one memory card's pictures, each with a verified copy in the logbook.

The logbook is opened before (`known`) and after (`cards_in`); between them, dump by dump (`dump`):

* what is on a card: `card_files`, `companions`; which cards wait: `find_cards`
* one file (`one_file`): `read` and described, with `other_times`, placed in the folder `incoming`,
  and measured by the pixels room
* whose it is: what pictures say in `evidence`, what that comes to in `whose`;
  one camera said for several: `one_camera`
* the card that stands in the end: `commit`
* what is told of it: `report`, `result`, `since_last_check`

Three records go through: a `Job` is what the work on files needs, an `Item` what became of a file,
a `Report` one dump: its job, whose it is, its items, what is noted. Items wait in a spool until it
is known whose they are.
"""

from camsign.flows.intake.cards_in import ingest
from camsign.flows.intake.result import IngestResult, Question

__all__ = ["IngestResult", "Question", "ingest"]
