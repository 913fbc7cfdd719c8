"""A logbook checked, mended, and joined with a friend's."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from camsign.cli.command import Out, command
from camsign.cli.show import Aside, Block, first_of, listed
from camsign.cli.waiting import Progress
from camsign.errors import ATTENTION, DAMAGED, DONE, UsageError
from camsign.flows.upkeep import backup as backups
from camsign.flows.upkeep import merge as merging
from camsign.flows.upkeep import verify as checks
from camsign.flows.upkeep.backup import BackedUp
from camsign.flows.upkeep.merge import Merged
from camsign.flows.upkeep.verify import Verified
from camsign.logbook.folder import Folder
from camsign.units import counted, numbered

if TYPE_CHECKING:
    from camsign.flows.upkeep.thin import Thinned

_SHOWN = 40


@command(
    attention="something is on another machine, or not settled",
    stopped="what was read so far is noted: camsign verify --resume goes on there",
)
def verify(
    book: Folder,
    progress: Progress,
    sample: Annotated[
        float, typer.Option(metavar="PERCENT", min=0, max=100, help="Read so many originals.")
    ] = 100,
    resume: Annotated[
        bool, typer.Option("--resume", help="Go on where the last check was cut short.")
    ] = False,
    repair: Annotated[
        bool,
        typer.Option("--repair", help="Make the database again; bring back what --from still has."),
    ] = False,
    sources: Annotated[
        list[Path] | None,
        typer.Option("--from", metavar="DIR", help="A card or second copy to fetch from."),
    ] = None,
    accept_missing: Annotated[
        bool,
        typer.Option("--accept-missing", help="What is missing now is gone for good."),
    ] = False,
) -> Out[Verified]:
    """Check that every picture and change is as it was saved.

    Nothing is changed without --repair. Exit codes: 0 all is right; 1 something is on another
    machine or not settled; 5 damaged.
    """
    if sources and not repair:
        raise UsageError("--from goes with --repair", "add --repair, or leave --from out")
    if accept_missing:
        checks.accept_missing(book)
    if repair:
        done = checks.repair(book, sources or [], progress)
    else:
        done = checks.verify(book, sample / 100, resume, progress)
    code = DAMAGED if done.damaged else ATTENTION if done.away or done.unsettled else DONE
    return Out(done, _verified(done), code=code)


def _verified(done: Verified) -> Iterator[Block]:
    damaged = len(done.damaged)
    if damaged:
        yield (f"{damaged} thing{'s are' if damaged > 1 else ' is'} damaged or missing.")
    elif done.away:
        away = numbered(len(done.away), "picture is", "pictures are")
        yield f"Nothing is damaged; {away} not on this machine."
    else:
        yield ("Everything is as it was written.")
    if done.fetched:
        yield (f"Fetched again: {counted(done.fetched, 'picture')}.")
    if done.restored:
        yield (f"Brought back from the second copy: {', '.join(first_of(done.restored, 5))}.")
    read = f"{done.read:,} of them " if done.read < done.originals else ""
    yield f"{counted(done.originals, 'original')}, {read}read byte by byte."
    if done.let_go:
        yield (f"You let go of {done.let_go} of them (camsign thin); their small pictures stay.")
    found = sorted(done.findings, key=lambda f: f.kind)
    cured = [f"{f.kind}: {f.file}: {f.what}{f'; {f.cure}' if f.cure else ''}" for f in found]
    settle = [f"not settled: {line}" for line in done.unsettled]
    yield from (Aside(f"camsign: {line}") for line in (*first_of(cured, _SHOWN), *settle))


@command(
    attention="something is not in the backup",
    refused="it does not fit there",
    stopped="the backup is not complete; the same command copies the rest",
)
def backup(
    book: Folder,
    progress: Progress,
    place: Annotated[
        Path | None, typer.Argument(help="Its folder, on another disk; default the last one.")
    ] = None,
    check: Annotated[
        bool, typer.Option("--check", help="Read every file of the backup again.")
    ] = False,
) -> Out[BackedUp]:
    """Back up to another disk: copies what is new, and checks it.

    Any machine can check it with `sha256sum -c SHA256SUMS`. Nothing in it is ever deleted. Exit
    code 5: the backup holds damaged files that your logbook could not replace.
    """
    done = backups.backup(book, place, check, progress)
    code = DAMAGED if done.damaged else ATTENTION if done.left else DONE
    return Out(done, _backed_up(done), code=code)


def _backed_up(done: BackedUp) -> Iterator[Block]:
    if done.damaged or done.left:
        yield f"The backup in {done.place} is not complete."
    else:
        all_ = "Everything" if not done.elsewhere else "Everything that is still here"
        yield f"{all_} is in the backup in {done.place}."
    if done.elsewhere:
        yield (
            f"{counted(done.elsewhere, 'file')} you let go of with camsign thin: not in this one. "
            "Keep the older one that has them."
        )
    yield (
        f"Copied {counted(done.copied, 'file')} ({done.bytes / 1e6:,.1f} MB) and read them back; "
        f"{done.there:,} were there already."
    )
    if done.checked:
        yield f"Read again byte by byte: {counted(done.checked, 'file')}."
    if done.kept:
        yield f"It also keeps {counted(done.kept, 'file')} that your logbook no longer holds."
    damaged = [f"damaged in the backup: {name}" for name in done.damaged[:_SHOWN]]
    left = first_of([f"not in the backup: {line}" for line in done.left], _SHOWN)
    yield from (Aside(f"camsign: {line}") for line in (*damaged, *left))


@command(stopped="no answer changes; camsign thin lists what can still go")
def thin(
    book: Folder,
    progress: Progress,
    keep_best: Annotated[
        int | None,
        typer.Option(min=1, metavar="N", help="Also all but the N best pictures of each visit."),
    ] = None,
    yes: Annotated[
        bool, typer.Option("--yes", help="Let go of them; without it they are only listed.")
    ] = False,
    without_backup: Annotated[
        bool, typer.Option("--without-backup", help="Also of pictures that no backup holds.")
    ] = False,
    bring_back: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Bring back what was let go, from a backup or a card."),
    ] = None,
) -> Out[Thinned]:
    """Free disk space: delete full-size pictures you tagged as nothing.

    What was read and measured of them and a small picture stay, so no answer changes. Only pictures
    that your backup holds go; it is read to make sure.
    """
    from camsign.flows.upkeep import thin as flow

    if bring_back:
        back, left = flow.bring_back(book, bring_back)
        still = f" {numbered(left, 'is', 'are')} not in {bring_back}." if left else ""
        told = flow.Thinned((), back, 0, 0, 0, False)
        return Out(told, f"Brought back {counted(back, 'picture')}.{still}", code=int(bool(left)))
    done = flow.thin(book, keep_best, yes, without_backup, progress)
    return Out(done, _thinned(done))


def _thinned(done: Thinned) -> Iterator[Block]:
    verb = "Let go of" if done.done else "You could let go of"
    yield f"{verb} {counted(done.frames, 'picture')}, {done.bytes / 1e6:,.1f} MB."
    yield from listed(done.rows, {
        "camera": "camera", "card": "card", "pictures": "frames", "tagged nothing": "nothing",
        "MB": lambda r: f"{r.bytes / 1e6:,.1f}",
    })  # fmt: skip
    if done.unsafe:
        yield f"{done.unsafe:,} more stay: your backup doesn't hold them. camsign backup"
    if done.unseen:
        yield f"{done.unseen:,} more stay: no small picture of them can be made here."
    if done.frames and not done.done:
        yield "They are still here. To let go of them, run it again with --yes."


@command(
    attention="something was left out, or waits for an answer",
    stopped="cards that came over are kept; the same command takes the rest",
)
def merge(
    book: Folder,
    progress: Progress,
    friend: Annotated[Path, typer.Argument(help="The folder of a friend's logbook.")],
    anywhere: Annotated[
        bool, typer.Option("--another-property", help="Take it also from another property.")
    ] = False,
) -> Out[Merged]:
    """Add a friend's logbook of the same property: cards, tags, sign.

    His logbook is only read. Where the two of you say different things, each is told with what
    settles it, and the answer is remembered.
    """
    done = merging.merge(book, friend, anywhere, progress)
    return Out(done, _merged(done), code=int(bool(done.left or done.unsettled)))


def _merged(done: Merged) -> Iterator[Block]:
    yield (
        f"Added {counted(done.cards, 'card')} with {counted(done.frames, 'picture')}, and "
        f"{counted(done.lines, 'change')} of his; {counted(done.known, 'card')} known already."
    )
    yield from (f"  {line}" for line in done.notes)
    for line in done.left:
        yield Aside(f"camsign: left out: {line}")
    if done.unsettled:
        wait = numbered(done.waiting, "picture waits", "pictures wait")
        wait = f" {wait} for it." if done.waiting else ""
        yield f"To settle, each with one answer:{wait}"
        yield from (f"  {line}" for line in done.unsettled)
