"""What a Python program, the command line and the live page call: a trip in, a plan out."""

from resupply.api.calls import load_trip, plan, plan_files, plan_trip_at, read_route
from resupply.api.meals_and_ice import cook, ice_chances
from resupply.api.plan_object import Plan, plan_prepared

__all__ = [
    "Plan",
    "cook",
    "ice_chances",
    "load_trip",
    "plan",
    "plan_files",
    "plan_prepared",
    "plan_trip_at",
    "read_route",
]
