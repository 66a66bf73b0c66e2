"""The command line: its commands, and how a run ends.

Every option is also a key of the trip file. Errors come out as one line, never a traceback.
Heavy imports happen inside the commands, so that `--help` is quick.
"""

from __future__ import annotations

import atexit
import gc
import sys
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from resupply.cli.fetch import fetch
from resupply.cli.here import here
from resupply.cli.many import club, gather
from resupply.cli.page import page
from resupply.cli.plan import demo, plan
from resupply.cli.signs import use_plain_signs
from resupply.common.errors import ResupplyError
from resupply.common.version import __version__

__all__ = ["app", "main"]


class _StoppedError(Exception):
    """The rider has pressed Ctrl-C."""


class _WrongUseError(Exception):
    """An option that there is not, or a value that it cannot have."""


class _Commands(TyperGroup):
    def invoke(self, ctx: Any) -> Any:
        try:
            return super().invoke(ctx)
        except KeyboardInterrupt:
            # Some versions of typer end here without a word, some with a word of their own.
            raise _StoppedError from None
        except Exception as error:
            # What typer raises for wrong use bears another name in each of its versions.
            told = getattr(error, "format_message", None)
            if told is None:
                raise
            raise _WrongUseError(told().rstrip(".?")) from None


app = typer.Typer(
    cls=_Commands,
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    help="Plan food, ice, water and fuel along a motorcycle camping route.",
)


def _print_version(wanted: bool) -> None:
    if wanted:
        print(f"resupply {__version__}")
        raise typer.Exit


@app.callback()
def _options(
    version: Annotated[
        bool,
        typer.Option(
            "--version", help="Print the version.", callback=_print_version, is_eager=True
        ),
    ] = False,
) -> None:
    """Options before any command."""


for command in (plan, fetch, here, demo, page, gather, club):
    app.command()(command)


def main() -> None:
    """Run the command line.

    Exit code 0 done, 1 cannot be done, 2 wrong use, 70 a fault of the program, 130 interrupted.
    """
    # Places, passes and legs live to the end: looking for rubbish after every 700 new objects
    # takes a tenth of the time and finds none.
    gc.set_threshold(50_000)
    # Nor at the end, when all goes anyway: that took half a second.
    atexit.register(gc.freeze)
    use_plain_signs()
    try:
        app([word for word in sys.argv[1:] if word != "--debug"])
    except ResupplyError as error:
        _say_error(str(error))
        sys.exit(1)
    except _WrongUseError as error:
        _say_error(f"{error}. Try the command with --help")
        sys.exit(2)
    except (KeyboardInterrupt, _StoppedError):
        # It may come after the files were written: nothing is said of how many there are.
        _say_error("stopped; no file is half written. Start again to go on where map data was left")
        sys.exit(130)
    except MemoryError:
        _say_error("out of memory. Use a smaller map extract, cut to the region you ride")
        sys.exit(1)
    except Exception as fault:
        # The last edge: no traceback reaches a rider.
        if "--debug" in sys.argv:
            raise
        _say_error(
            f"a fault of the program itself ({type(fault).__name__}: {fault}). No file is half "
            "written. Run it again with --debug at the end and report what it prints"
        )
        sys.exit(70)


def _say_error(text: str) -> None:
    from resupply.common.text import clean

    print(f"resupply: {clean(text)}", file=sys.stderr)
