"""Write files so that a reader sees the old content or the new, never a half."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path

from resupply.errors import OutputError

__all__ = ["write_atomic"]


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
    data = content.encode("utf-8", "backslashreplace") if isinstance(content, str) else content
    temporary: Path | None = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
        temporary = Path(name)
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        # mkstemp makes private files; a result should have the rider's usual mode.
        umask = os.umask(0)
        os.umask(umask)
        temporary.chmod(0o666 & ~umask)
        temporary.replace(path)
    except OSError as error:
        if temporary is not None:
            with contextlib.suppress(OSError):
                temporary.unlink()
        raise OutputError(
            f"cannot be written ({error.strerror or error})",
            where=str(path),
            mend="Choose a folder you may write to, with free space, using --out",
        ) from error
