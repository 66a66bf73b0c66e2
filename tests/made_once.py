"""What takes long to make is made by one process of a test run, for all of them.

The folder lives as long as the run: what one run made says nothing of the next.
"""

from __future__ import annotations

import fcntl
import os
import pickle
from functools import wraps
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, ParamSpec, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable

FOLDER = "RESUPPLY_TEST_RUN"
"""Variable of the environment with the folder's name, set by conftest.py."""
P = ParamSpec("P")
T = TypeVar("T")


def made_once(make: Callable[P, T]) -> Callable[P, T]:
    """Let the first process that asks make it, and the others read it back."""

    @wraps(make)
    def read_or_made(*args: P.args, **more: P.kwargs) -> T:
        if FOLDER not in os.environ:
            return make(*args, **more)
        asked = f"{make.__module__}.{make.__qualname__} {args} {sorted(more.items())}"
        path = Path(os.environ[FOLDER]) / sha256(asked.encode()).hexdigest()
        with Path(f"{path}.lock").open("w") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            if path.exists():
                return pickle.loads(path.read_bytes())
            made = make(*args, **more)
            path.write_bytes(pickle.dumps(made))
            return made

    return read_or_made
