"""What a command line gives: settings by key, and how each was spelled.

In: options. Out: overrides of the trip file, and errors that blame the option.
"""

from __future__ import annotations

import tomllib
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from resupply.common.errors import ResupplyError, TripFileError

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from resupply.trip.settings import Trip

__all__ = ["Given", "needs_package", "read_trip"]


@dataclass(slots=True)
class Given:
    """Settings given on the command line; they win over the trip file."""

    keys: dict[str, object] = field(default_factory=dict)
    """Dotted key to value."""
    spelled: dict[str, str] = field(default_factory=dict)
    """Dotted key to the option as the rider wrote it."""

    def put(self, key: str, option: str, value: object, *, shown: object = None) -> None:
        """Take an option; one that is not given (None) changes nothing.

        Parameters
        ----------
        shown
            Value to show in errors, where it is not the one that is kept.
        """
        if value is None:
            return
        self.keys[key] = value
        said = value if shown is None else shown
        told = f"{said:g}" if isinstance(said, float) else str(said)
        self.spelled[key] = f"{option} {told}".strip()

    def put_files(self, extracts: Sequence[Path] | None) -> None:
        """Take map extracts, relative to where the command runs."""
        if extracts:
            paths = [str(path.resolve()) for path in extracts]
            self.put("map.extracts", "--extract", paths, shown=" ".join(map(str, extracts)))

    def put_pairs(
        self, pairs: Sequence[str] | None, *, taken: Mapping[str, str] | None = None
    ) -> None:
        """Take `--set key=value`, after all other options.

        Parameters
        ----------
        taken
            Keys that an option sets later on, and that option.

        Raises
        ------
        ResupplyError
            It is no such pair, or says what an option or another pair says already.
        """
        from resupply.trip.read_file import own_key

        options = {key: said for key, said in self.spelled.items() if said.startswith("--")}
        options |= taken or {}
        for pair in pairs or ():
            key, equals, value = (part.strip() for part in pair.partition("="))
            if not equals or not key:
                raise ResupplyError(
                    f"--set {pair}: a key and a value are needed", mend="Write --set key=value"
                )
            said = options.setdefault(own_key(key), f"--set {pair}")
            if said != f"--set {pair}":
                raise ResupplyError(
                    f"{said} and --set {pair} say the same", mend=f"Leave --set {key} out"
                )
            try:
                self.keys[key] = tomllib.loads(f"value = {value}")["value"]
            except ValueError:
                # A bare word is meant as text.
                self.keys[key] = value
            self.spelled[key] = f"--set {pair}"

    @contextmanager
    def blamed(self) -> Iterator[None]:
        """Let errors about a setting given here name its option, not the trip file."""
        try:
            yield
        except TripFileError as error:
            raise error.named(self.blamable()) from error

    def blamable(self) -> dict[str, str]:
        """Key as the trip's tables have it to the option that has set it."""
        from resupply.trip.read_file import own_key

        return {own_key(key): words for key, words in self.spelled.items()}


def read_trip(path: Path, given: Given) -> tuple[Trip, Path]:
    """Trip of a trip file or of a bare route, and the folder its file names are relative to."""
    from resupply.trip.read_file import load_trip, make_trip

    with given.blamed():
        if path.suffix.lower() == ".toml":
            return load_trip(path, given.keys), path.parent
        keys = {"route": str(path), **given.keys}
        return make_trip({}, where="command line", overrides=keys), Path()


def needs_package(what: str, error: ModuleNotFoundError, extra: str) -> ResupplyError:
    """Say which optional package is missing, and how to install it."""
    return ResupplyError(
        f"{what} needs the package {error.name}",
        mend=f"Install it in the project's folder with: pip install -e '.[{extra}]'; from a wheel "
        f"with [{extra}] behind the wheel's name",
    )
