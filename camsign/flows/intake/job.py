"""What the stages of an intake work with."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import Executor
from dataclasses import dataclass, field

from camsign.flows.intake.card_files import CardFile
from camsign.flows.intake.incoming import Incoming, Leftovers
from camsign.flows.intake.known import Known
from camsign.flows.intake.other_times import OtherTimes
from camsign.flows.intake.read import READER, Reader
from camsign.flows.intake.result import Ask
from camsign.logbook.folder import Folder
from camsign.logbook.placing import DISK, Disk
from camsign.logbook.records import FrameFacts


@dataclass(frozen=True, slots=True)
class Job:
    """The arguments of `camsign.flows.intake.ingest`, what the logbook knows, and one dump's own.

    One dump's own are: by a clip's path on the card, the small picture that goes with it, in
    `smalls`, and in `pairs` by a file's path that of the file whose name it bears and with which it
    may go; the files that were `described` beforehand, by their path;
    what interrupted ingests left; the `room` in which the card is put together, None if nothing is
    written.
    """

    folder: Folder
    executor: Executor
    known: Known
    times: OtherTimes
    camera: str | None = None
    ask: Ask | None = None
    dry_run: bool = False
    accept_refused: bool = False
    progress: Callable[[int, int], None] | None = None
    reader: Reader = READER
    disk: Disk = DISK
    smalls: Mapping[str, CardFile] = field(default_factory=dict)
    pairs: Mapping[str, str] = field(default_factory=dict)
    described: Mapping[str, FrameFacts] = field(default_factory=dict)
    leftovers: Leftovers = field(default_factory=Leftovers)
    room: Incoming | None = None
