"""Plan food, ice, water and fuel along a motorcycle camping route."""

from typing import TYPE_CHECKING

from resupply.common.errors import MapDataError, OutputError, ResupplyError, RouteError
from resupply.common.errors import TripFileError as TripFileError
from resupply.common.lazy import call_through, lazy_names
from resupply.common.version import __version__

if TYPE_CHECKING:
    from resupply.api import Plan, load_trip, plan, read_route
    from resupply.route.route import Route
    from resupply.trip.settings import Trip

# fmt: off
__all__ = ["__version__", "load_trip", "MapDataError", "OutputError", "Plan", "plan",  # noqa: RUF022
           "read_route", "ResupplyError", "Route", "RouteError", "Trip", "TripFileError"]
# fmt: on

# Heavy libraries load with the first name that needs them. `plan` is a package and a function.
_API = dict.fromkeys(("Plan", "load_trip", "read_route"), "resupply.api")
_MODELS = {"Route": "resupply.route.route", "Trip": "resupply.trip.settings"}
__getattr__ = lazy_names(__name__, _API | _MODELS)
call_through("resupply.plan", "resupply.api", "plan")
