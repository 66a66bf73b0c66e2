"""Names of a package that are loaded when they are first asked for.

In: a table of names and the modules they live in. Out: the package's `__getattr__`.
"""

from __future__ import annotations

import importlib
import inspect
from types import ModuleType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

__all__ = ["call_through", "lazy_names"]


def lazy_names(package: str, homes: Mapping[str, str]) -> Callable[[str], Any]:
    """Make the `__getattr__` of a package.

    Parameters
    ----------
    package
        Its name.
    homes
        Name to the module that defines it.
    """

    def load(name: str) -> Any:
        if name not in homes:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        return getattr(importlib.import_module(homes[name]), name)

    return load


def call_through(package: str, home: str, name: str) -> None:
    """Let a package be called as a function that bears its name.

    Python puts a package, once it is loaded, in the place of anything else of its name in the
    package around it: so both have to be one.

    Parameters
    ----------
    home, name
        The function's module, and its name there.
    """

    class Called(ModuleType):
        @property
        def __signature__(self) -> inspect.Signature:
            # What a notebook shows of it.
            return inspect.signature(getattr(importlib.import_module(home), name))

        def __call__(self, *arguments: Any, **options: Any) -> Any:
            return getattr(importlib.import_module(home), name)(*arguments, **options)

    importlib.import_module(package).__class__ = Called
