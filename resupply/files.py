"""Write files so that a reader sees the old content or the new, never a half."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from resupply.errors import OutputError

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["write_atomic", "write_together"]


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
    path = Path()
    try:
        for path, content in contents.items():
            path.parent.mkdir(parents=True, exist_ok=True)
            handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
            ready[path] = Path(name)
            with os.fdopen(handle, "wb") as stream:
                stream.write(
                    content.encode("utf-8", "backslashreplace")
                    if isinstance(content, str)
                    else content
                )
                stream.flush()
                os.fsync(stream.fileno())
            # mkstemp makes private files; a result should have the rider's usual mode.
            umask = os.umask(0)
            os.umask(umask)
            ready[path].chmod(0o666 & ~umask)
        for path in contents:
            ready[path].replace(path)
            del ready[path]
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
