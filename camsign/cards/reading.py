"""A card's file is read once: its bytes, or a long clip's pieces. Tests stand in a bad card."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain
from pathlib import Path

from camsign.cards.walk import long_path

PIECE = 8_000_000
"""How much of a long file is held at once [bytes]."""

LARGE = 48_000_000
"""A file longer than this is copied in pieces [bytes]."""


class CardReadError(Exception):
    """The card did not hand a file's bytes out; `error` is what the system said."""

    def __init__(self, error: OSError) -> None:
        self.error = error
        super().__init__(str(error))


class Reader:
    """The calls by which a card is read."""

    def read(self, path: str) -> bytes:
        """Give a file's bytes.

        Raises:
            OSError: the card does not hand them out.
        """
        return Path(long_path(path)).read_bytes()

    def pieces(self, path: str) -> Iterator[bytes]:
        """Give a file's bytes in pieces.

        Raises:
            OSError: the card does not hand them out.
        """
        with Path(long_path(path)).open("rb") as f:
            while piece := f.read(PIECE):
                yield piece


READER = Reader()


def pieces_once(reader: Reader, path: str) -> tuple[bytes, Iterator[bytes]]:
    """Give a long file's first piece, and all its pieces, from one reading.

    Raises:
        CardReadError: the card does not hand them out; at once, or while the pieces are taken.
    """
    pieces = _guarded(reader.pieces(path))
    first = next(pieces, b"")
    return first, chain([first], pieces)


def _guarded(pieces: Iterator[bytes]) -> Iterator[bytes]:
    """The card's errors under a name of their own, lest they pass for the logbook's disk's."""
    while True:
        try:
            piece = next(pieces)
        except StopIteration:
            return
        except OSError as e:
            raise CardReadError(e) from e
        yield piece
