"""Cards that stand in the logbook."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated

import typer

from camsign.cards import listing as rooms
from camsign.cards.listing import CardRow, CardSet, CardShown
from camsign.cli.command import Out, command
from camsign.cli.opened import logbook
from camsign.cli.reading import Camera
from camsign.cli.show import Block, first_of, listed
from camsign.errors import UsageError
from camsign.logbook.naming import camera_as_known
from camsign.logbook.session import Session
from camsign.units import counted

if TYPE_CHECKING:
    from camsign.pixels.moved_cameras import MovedCamera

cards_app = typer.Typer(help="Cards taken in.", no_args_is_help=True)
Card = Annotated[str, typer.Argument(help="A card's id, or its beginning.")]
_SHOWN = 30


@command(cards_app, "list", csv=True)
def list_cards(session: Session, camera: Camera = None) -> Out[list[CardRow]]:
    """List cards, oldest first."""
    rows = rooms.list_cards(session, camera)
    columns = {"card": "card", "camera": "camera", "pictures": "frames", "first": "first"}
    columns |= {"last": "last", "not copied": "refused", "safe to wipe": "safe_to_wipe"}
    missing = [
        f"card {row.card}: {row.missing} of its {counted(row.frames, 'picture')} missing in "
        f"cards/{row.folder}; camsign verify --repair --from DIR fetches them again"
        for row in rows
        if row.missing
    ]
    empty = "no cards yet: camsign ingest takes one in"
    return Out(rows, listed(rows, columns, empty), warned=missing)


@command(cards_app, "moved", csv=True)
def moved(context: typer.Context, quiet: bool, camera: Camera = None) -> Out[list[MovedCamera]]:
    """Cameras that got bumped or covered, when, and how far.

    Shifts are shares of the picture: where things in it went.
    """
    from camsign.pixels.moved_cameras import moved_cameras

    with logbook(context, compare=True, quiet=quiet) as session:
        rows = moved_cameras(session, camera and camera_as_known(session.con, camera))
    told = [f"{row.camera} {row.words}." for row in rows]
    return Out(rows, told or "No camera's view is seen to have moved.")


@command(cards_app, "show")
def show_card(session: Session, card: Card) -> Out[CardShown]:
    """One card: whose it is, and where its files went."""
    shown = rooms.show_card(session, card)
    return Out(shown, _told(shown))


def _told(shown: CardShown) -> Iterator[Block]:
    about = shown.about
    how = rooms.known_in_words(about.known_by)
    yield f"card {about.card}: {counted(about.frames, 'file')} from {about.camera} ({how})"
    yield f"  loaded {about.taken_in:%Y-%m-%d %H:%M} from {about.source}"
    yield (
        f"  kept in cards/{about.folder}"
        if about.folder
        else "  its pictures came with other cards"
    )
    yield f"  safe to wipe: {_safe(shown)}"
    yield from (f"  {why}" for why in (*shown.reasons, *shown.twofold))
    files = []
    for file in shown.files:
        small = f", small one of {file.stands_for[:12]}" if file.stands_for else ""
        where = file.file or "not in this logbook"
        files.append(f"{file.card_path} → {where} ({file.frame[:12]}{small})")
    yield from (f"  {line}" for line in first_of(files, _SHOWN))
    yield from (f"  left: {left.file}: {left.why}" for left in shown.refused)


def _safe(shown: CardShown) -> str:
    if not shown.about.safe_to_wipe:
        return "NO"
    lost = len(shown.refused)
    files = counted(lost, "file")
    return f"yes, but for {files} without a copy, as you accepted" if lost else "yes"


@command(cards_app, "set")
def set_camera(
    session: Session,
    card: Card,
    camera: Annotated[str | None, typer.Option(help="Camera that took these.")] = None,
    file_times: Annotated[
        bool, typer.Option("--file-times", help="The files' own stamps are right.")
    ] = False,
) -> Out[CardSet]:
    """Say whose card it is, or that its file dates are right. `camsign undo` takes it back."""
    if (camera is None) is not file_times:
        raise UsageError("a card is set in one way", "give --camera or --file-times")
    if file_times:
        done = rooms.confirm_file_times(session, card)
        told = f"Card {done.card}: {counted(done.frames, 'picture')} now go by their file dates."
        return Out(done, told)
    done = rooms.set_camera(session, card, camera or "")
    told = f"Card {done.card}: {counted(done.frames, 'picture')} went from {done.was} to "
    told += f"{done.camera}."
    if done.was == done.camera:
        told = f"Card {done.card} is {done.camera}'s: settled."
    return Out(done, [told, *done.doubts])
