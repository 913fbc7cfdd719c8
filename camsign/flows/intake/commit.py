"""The cards that one dump makes: one for each camera whose pictures it holds."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.metadata import version

from camsign.errors import InputRefused, UsageError
from camsign.flows.intake import incoming
from camsign.flows.intake.evidence import Signature
from camsign.flows.intake.incoming import Incoming
from camsign.flows.intake.new_card import CardTables, Tally, stand
from camsign.flows.intake.other_times import ask_exiftool, exiftool, noted
from camsign.flows.intake.report import DumpReport
from camsign.flows.intake.result import CardTaken
from camsign.flows.intake.spool import Spool, Spooled
from camsign.flows.intake.tools import Tools
from camsign.flows.intake.whose import Case
from camsign.formats.kinds import PICTURES
from camsign.formats.shown import ShownTime
from camsign.logbook.folder import FILES
from camsign.logbook.receipts import Left, Receipt
from camsign.zones import to_utc, zone


@dataclass(frozen=True, slots=True)
class Batch:
    """One camera's part of a dump."""

    tools: Tools
    case: Case
    report: DumpReport
    spool: Spool
    camera: str
    signatures: list[Signature]
    notes: Mapping[str, ShownTime]

    def rows(self) -> Iterator[tuple[Spooled, bool]]:
        """Give its rows, and of each whether its bytes came already and are not kept again."""
        groups = {self.case.groups[s].number for s in self.signatures}
        stored = self.report.stored
        for spooled in self.spool:
            if spooled.group not in groups:
                continue
            spooled = self._with_note(spooled)
            again = not spooled.row.known and spooled.row.frame in stored
            if not spooled.row.known:
                stored.add(spooled.row.frame)
            yield spooled, again

    def _with_note(self, spooled: Spooled) -> Spooled:
        shown = self.notes.get(spooled.row.frame)
        return spooled if shown is None else spooled._replace(row=noted(spooled.row, shown))

    @property
    def known_by(self) -> str:
        """How it is known whose they are, each way once."""
        ways = dict.fromkeys(self.case.verdicts[s].why for s in self.signatures)
        return "; ".join(list(ways)[:5])


def commit(
    tools: Tools, case: Case, spool: Spool, room: Incoming | None, report: DumpReport
) -> None:
    """Let a card stand for each camera that has new pictures on the dump.

    Raises:
        OSError: a disk is full; the next ingest takes over what is there.
    """
    cameras = case.cameras()
    open_groups = case.open_groups()
    report.undecided += [_undecided(case, s) for s in open_groups]
    notes = {} if room is None else _read_notes(spool, room, report)
    for camera, signatures in cameras.items():
        batch = Batch(tools, case, report, spool, camera, signatures, notes)
        if room is None:
            _would_take(batch)
        elif len(cameras) == 1 and not open_groups:
            _take(batch, room, room)
        else:
            with closing(incoming.start(tools.folder, tools.disk)) as own:
                _take(batch, room, own)
    if room is not None and not open_groups:
        incoming.remove_tree(room.root)


def _read_notes(spool: Spool, room: Incoming, report: DumpReport) -> dict[str, ShownTime]:
    """Read the cameras' own notes, by exiftool, of just the pictures whose time is unknown."""
    timeless = {
        str(room.root / row.file): row.frame
        for _, row, _ in spool
        if row.file and row.shown is None and row.kind in PICTURES and not row.beside
    }
    if not timeless:
        return {}
    program = exiftool()
    if program is None:
        report.warnings.append(
            f"{len(timeless)} pictures hold no time that can be read here; if their camera keeps it"
            " in its own notes, exiftool reads them: install it before the next such card"
        )
        return {}
    found = ask_exiftool(program, list(timeless))
    if found:
        report.notes.append(f"exiftool read the time of {len(found)} pictures from notes")
    return {timeless[path]: shown for path, shown in found.items() if path in timeless}


def unknown_camera(case: Case) -> InputRefused:
    """Say in one line what is not known and what would settle it."""
    signature = case.open_groups()[0]
    verdict, group = case.verdicts[signature], case.groups[signature]
    root = str(case.dump.root)
    return InputRefused(
        f"{root}: {verdict.why} (first picture: {group.facts.card_path})",
        f"say whose it is: camsign ingest {_quoted(root)} --camera {_choice(signature)}",
    )


def _choice(signature: Signature) -> str:
    named = sorted({c for e in signature.evidence for c in e.cameras})
    return " or ".join(_quoted(c) for c in named) if named else "ID"


def _quoted(text: str) -> str:
    return f'"{text}"' if " " in text else text


def _undecided(case: Case, signature: Signature) -> Left:
    group, why = case.groups[signature], case.verdicts[signature].why
    more = f" and {group.frames - 1} more" if group.frames > 1 else ""
    return Left(
        f"{group.facts.card_path}{more}",
        f"whose they are is not known ({why}); run it again with --camera {_choice(signature)}",
    )


def _would_take(batch: Batch) -> None:
    tally = Tally()
    for spooled, again in batch.rows():
        tally.count(spooled.row, again)
    batch.report.cards.append(_card(batch, tally, ""))


def _take(batch: Batch, room: Incoming, own: Incoming) -> None:
    """Let one card stand in `own`; its files were placed in `room`, which may be the same."""
    disk = batch.tools.disk
    with CardTables(own) as tables:
        for spooled, again in batch.rows():
            name = (spooled.row.file or "").removeprefix(f"{FILES}/")
            if again:
                room.drop(name)
            elif own is not room and not spooled.row.known:
                own.take_over(name, room.files / name, disk)
            tables.add(spooled.row, spooled.look, again)
        if tables.tally.new:
            tables.write(disk)
            receipt = _receipt(batch, tables.tally)
            name = stand(batch.tools.folder, own, receipt, disk)
        else:
            incoming.remove_tree(own.root)
            name = batch.case.known.cards.get(tables.tally.card, "")
    batch.report.cards.append(_card(batch, tables.tally, name))


def _card(batch: Batch, tally: Tally, folder: str) -> CardTaken:
    return CardTaken(
        card=tally.card,
        camera=batch.camera,
        folder=folder,
        frames=tally.new + tally.known,
        new=tally.new,
        known=tally.known,
        first=_local(tally.first, batch.tools.folder.settings.tz),
        last=_local(tally.last, batch.tools.folder.settings.tz),
        first_shown=tally.first,
        last_shown=tally.last,
        known_by=batch.known_by,
        source=str(batch.report.dump.root),
        safe_to_wipe=not _reasons(batch),
    )


def _local(shown: str | None, tz: str) -> str | None:
    """A clock reading as the logbook's own zone has it, until the right time is known."""
    if shown is None:
        return None
    try:
        return to_utc(datetime.fromisoformat(shown), tz).astimezone(zone(tz)).isoformat()
    except UsageError:
        return None


def _reasons(batch: Batch) -> list[str]:
    return batch.report.reasons(batch.tools.accept_refused, batch.tools.dry_run)


def _receipt(batch: Batch, tally: Tally) -> Receipt:
    report, reasons = batch.report, _reasons(batch)
    return Receipt(
        card=tally.card,
        camera=batch.camera,
        known_by=batch.known_by,
        folder="",
        taken_in=datetime.now(UTC).isoformat(timespec="seconds").replace("+00:00", "Z"),
        source=str(report.dump.root),
        files=report.files,
        new=tally.new,
        known=tally.known,
        refused=tuple(report.not_taken),
        companions=tuple(report.companions),
        serials=tuple(sorted(tally.serials)),
        models=tuple(sorted(tally.models)),
        first=tally.first,
        last=tally.last,
        safe_to_wipe=not reasons,
        reasons=tuple(reasons),
        program=f"camsign {version('camsign')}",
        more=_more(batch),
    )


def _more(batch: Batch) -> dict[str, object]:
    """What the receipt explains beyond its fields: the evidence, and answers to remember."""
    evidence = [
        {
            "says": [e.words for e in s.evidence],
            "serial": s.serial,
            "model": s.model,
            "pictures": batch.case.groups[s].frames,
            "taken_as": batch.case.verdicts[s].why,
        }
        for s in batch.signatures[:50]
    ]
    more: dict[str, object] = {"evidence": evidence}
    if answered := batch.case.answered(batch.signatures):
        more["answered"] = answered
    if batch.tools.accept_refused and batch.report.left:
        more["accepted_refused"] = True
    return more
