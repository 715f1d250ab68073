"""The bytes of a sheet, from a file or a pipe."""

from __future__ import annotations

import os
import stat
from select import select
from typing import Final

from coach.logbook.sheets.read_sheet import MAX_BYTES
from coach.roast.errors import FileError, printable, reason_of
from coach.session.folders import own_path

PATIENCE: Final = 3.0
"""Longest time for which a pipe may give nothing, s."""


def _piped(descriptor: int, most: int, shown: str) -> bytes:
    """Read a pipe until its writer is done.  Raises FileError where nothing comes."""
    data = bytearray()
    while len(data) < most:
        if not select([descriptor], [], [], PATIENCE)[0]:
            raise FileError(shown, f"is a pipe through which nothing came for {PATIENCE:g} s.", "Name a file.")
        some = os.read(descriptor, 65536)
        if not some:
            break
        data += some
    return bytes(data)


def read_bytes(name: str) -> bytes:
    """Read a sheet's file or pipe, up to a byte more than a sheet may have.  Raises FileError."""
    path, shown = own_path(name), printable(name)
    try:
        if path.is_dir():
            raise FileError(shown, "is a folder.", "Name a file.")
        descriptor = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
        with os.fdopen(descriptor, "rb") as file:
            if stat.S_ISFIFO(os.fstat(descriptor).st_mode):
                return _piped(descriptor, MAX_BYTES + 1, shown)
            return file.read(MAX_BYTES + 1) or b""
    except FileNotFoundError:
        raise FileError(shown, "not found.", "Check the name.") from None
    except OSError as error:
        raise FileError(shown, f"can't be read ({reason_of(error)}).", "Check the file's rights.") from None
