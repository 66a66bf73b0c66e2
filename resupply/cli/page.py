"""`resupply page`: the live page on this machine."""

from __future__ import annotations

import socket
from pathlib import Path
from typing import Annotated

from typer import Option

from resupply.cli.given import needs_package
from resupply.common.errors import ResupplyError
from resupply.trip.samples import samples_folder

__all__ = ["fetched_before", "page"]

_HOST = "127.0.0.1"


def page(
    extract: Annotated[
        list[Path] | None, Option(help="OpenStreetMap extract; may be repeated.")
    ] = None,
    service: Annotated[bool, Option(help="Ask the live map service.")] = False,
    contact: Annotated[
        str, Option(help="Your mail address or web page, told to the live map service.")
    ] = "",
    catalogue: Annotated[
        str, Option(help="Address or file of the list of map extracts. Key: map.catalogue")
    ] = "",
    port: Annotated[int, Option(min=1, max=65535, help="Port on this machine.")] = 8327,
) -> None:
    """Open the live page: drop a route on it, drag the daily distance, watch the plan follow."""
    missing = [path for path in extract or [] if not path.exists()]
    if missing:
        raise ResupplyError("there is no such map extract", where=str(missing[0]))
    with _taken(port) as listening:
        try:
            import uvicorn

            from resupply.web.app import make_app
            from resupply.web.settings import ServerMap
        except ModuleNotFoundError as error:
            raise needs_package("the live page", error, "page") from error

        class Server(uvicorn.Server):
            async def startup(self, sockets: list[socket.socket] | None = None) -> None:
                await super().startup(sockets)
                print(f"The page is at http://{_HOST}:{port}/ (stop it with Ctrl+C)", flush=True)

        extracts = list(extract or [])
        if not extracts and not service and (extracts := fetched_before(Path.cwd())):
            names = ", ".join(path.name for path in extracts)
            print(f"Planning with map data fetched earlier: {names}. Name other with --extract.")
        whole = tuple(str(path.resolve()) for path in extracts)
        own = ServerMap(whole, service=service, contact=contact, catalogue=catalogue)
        application = make_app(samples=samples_folder(), own_map=own, folder=Path.cwd(), port=port)
        # A page that listens for progress must not keep the program from stopping.
        config = uvicorn.Config(application, log_level="warning", timeout_graceful_shutdown=2)
        Server(config).run([listening])


def fetched_before(folder: Path) -> list[Path]:
    """Map data that was fetched for earlier plans of a folder; what came in part is left out."""
    from resupply.places.fetch import FOLDER

    # The parts that have come have a dot before and another ending.
    return sorted(path for path in (folder / FOLDER).glob("*.osm.pbf") if path.name[0] != ".")


def _taken(port: int) -> socket.socket:
    """Take the port before anything is loaded: a page opened early waits instead of failing."""
    try:
        return socket.create_server((_HOST, port))
    except OSError as error:
        raise ResupplyError(
            f"port {port} cannot be used", mend="Choose another one with --port"
        ) from error
