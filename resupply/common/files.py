"""Write files so that a reader sees the old content or the new, never a half."""

from __future__ import annotations

import contextlib
import glob
import os
import secrets
import stat
import time
from typing import TYPE_CHECKING

from resupply.common.errors import OutputError

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

__all__ = ["is_endless", "write_atomic", "write_together"]

# Younger temporary files may be those of another run at work.
_LEFT_BEHIND_S = 3_600.0


def is_endless(path: Path) -> bool:
    """Tell whether reading could wait or go on for ever: a pipe, a socket, a device.

    Raises
    ------
    OSError
        There is no such file, or it may not be looked at.
    """
    mode = path.stat().st_mode
    return not (stat.S_ISREG(mode) or stat.S_ISDIR(mode))


def write_atomic(path: Path, content: str | bytes) -> None:
    """Write `content` to a temporary file beside `path`, then rename it into place.

    Parameters
    ----------
    path
        Target file; missing parent folders are made.
    content
        Text (written as UTF-8) or bytes.

    Raises
    ------
    OutputError
        If the folder or file cannot be written; whatever was at `path` is untouched.
    """
    write_together({path: content})


def write_together(contents: Mapping[Path, str | bytes]) -> None:
    """Write several files: nothing is renamed into place before all of them are on the disk.

    Parameters
    ----------
    contents
        Target file and its text (written as UTF-8) or bytes; missing parent folders are made.

    Raises
    ------
    OutputError
        If a folder or file cannot be written; whatever was there is untouched, unless the fault
        comes between two renames: then each file is the old one or the new one, none is half.
    """
    ready: dict[Path, Path] = {}
    path: Path | None = None
    try:
        for path, content in contents.items():
            path.parent.mkdir(parents=True, exist_ok=True)
            temporary = path.with_name(f".{path.name}.{secrets.token_hex(8)}")
            # "x" follows no link and takes no file that is there; the mode is the rider's usual.
            with temporary.open("xb") as stream:
                ready[path] = temporary
                stream.write(
                    content.encode("utf-8", "backslashreplace")
                    if isinstance(content, str)
                    else content
                )
                stream.flush()
                os.fsync(stream.fileno())
        for path in contents:
            ready[path].replace(path)
            del ready[path]
            _sweep_up(path)
    except OSError as error:
        raise OutputError(
            f"cannot be written ({error.strerror or error})",
            where=str(path),
            mend="Choose a folder you may write to, with free space, using --out",
        ) from error
    finally:
        for temporary in ready.values():
            with contextlib.suppress(OSError):
                temporary.unlink()


def _sweep_up(path: Path) -> None:
    """Remove what runs that were killed have left beside a file."""
    for left in path.parent.glob(f".{glob.escape(path.name)}.{'?' * 16}"):
        with contextlib.suppress(OSError):
            if time.time() - left.stat().st_mtime > _LEFT_BEHIND_S:
                left.unlink()
