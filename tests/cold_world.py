"""Builders for cold-chain tests, and a second, continuous model of a cooler to test against."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
from scipy.integrate import solve_ivp

from resupply.kitchen.cold.cooler import make_cooler
from resupply.kitchen.cold.ice_plan import IceChance, plan_ice
from resupply.kitchen.cold.steps import Stored, make_timeline
from resupply.kitchen.cold.weather import DayWeather, Surroundings, make_ambient
from resupply.places.place import Confidence

DAY0 = dt.date(2027, 7, 9)
T0 = dt.datetime(2027, 7, 9, 8, tzinfo=dt.UTC).timestamp()
HOUR, DAY = 3600.0, 86_400.0


def utc(_date):
    return dt.UTC


def make_days(lows_highs):
    """One day per pair, from the day before the trip; None is a day without figures."""
    return tuple(
        DayWeather(
            DAY0 + dt.timedelta(days=i - 1),
            None if pair is None else pair[0],
            None if pair is None else pair[1],
            "test",
        )
        for i, pair in enumerate(lows_highs)
    )


def ambient_of(*lows_highs):
    return make_ambient(make_days(lows_highs), utc)


def steady(temp_c, days=60):
    return ambient_of(*[(temp_c, temp_c)] * days)


def bare_cooler(ua_w_per_k, volume_l=40.0, liner_kj_per_k=0.0, **more):
    """A cooler of known leak, whose lid stays shut and which the sun does not heat."""
    from dataclasses import replace

    cooler = make_cooler("hard", volume_l, openings_per_day=0.0, **more)
    shade = {"sun_excess_k": 0.0, "sun_riding_k": 0.0, "wind_factor": 1.0}
    return replace(cooler, ua_w_per_k=ua_w_per_k, liner_kj_per_k=liner_kj_per_k, **shade)


def ice_life_h(ice_kg, ua_w_per_k, ambient_c):
    """Hours until ice at 0 °C is gone at a steady air temperature, by 333.55 kJ/kg."""
    return math.inf if ambient_c <= 0.0 else ice_kg * 333.55 / (ua_w_per_k * ambient_c * 3.6)


def residual_kj(energy):
    """What the account of heat is out by."""
    gain_kj = energy.walls_kj + energy.sun_kj + energy.lid_kj + energy.goods_kj + energy.frost_kj
    return gain_kj - energy.ice_kj - energy.change_kj


def temp_at(trace, time_s):
    """Inside temperature, °C; NaN where not known or outside the trip."""
    known = trace.times_s[0] <= time_s <= trace.known_until_s
    return float(np.interp(time_s, trace.times_s, trace.temp_c)) if known else math.nan


def line_of(cooler, ambient, hours, **more):
    around = Surroundings(ambient, T0, T0 + hours * HOUR, tuple(more.pop("sun", ())))
    return make_timeline(cooler, around, **more)


def food(name, in_h, out_h, mass_kg=1.0, **more):
    return Stored(name, mass_kg, T0 + in_h * HOUR, T0 + out_h * HOUR, **more)


def ice_stop(at_h, label="shop", *, likely=False, **more):
    confidence = Confidence.LIKELY if likely else Confidence.STATED
    return IceChance(T0 + at_h * HOUR, label, confidence, **more)


def home(**more):
    return ice_stop(0.0, "home", counts=False, **more)


def plan(cooler, ambient, hours, stored, stops, **more):
    around = Surroundings(ambient, T0, T0 + hours * HOUR, tuple(more.pop("sun", ())))
    return plan_ice(cooler, around, stored=stored, stops=stops, **more)


def air_c(days, at_s):
    """Half-cosine between lows at 06:00 and highs at 15:00 UTC, written out independently."""
    midnight = dt.datetime.combine(days[0].date, dt.time(), dt.UTC).timestamp()
    i, hour = divmod((at_s - midnight) / HOUR, 24.0)
    i = int(i)
    today = days[i]
    if hour < 6.0:
        a, b, x = days[max(i - 1, 0)].high_c, today.low_c, (hour + 9.0) / 15.0
    elif hour < 15.0:
        a, b, x = today.low_c, today.high_c, (hour - 6.0) / 9.0
    else:
        a, b, x = today.high_c, days[min(i + 1, len(days) - 1)].low_c, (hour - 15.0) / 15.0
    return a + (b - a) * (1.0 - math.cos(math.pi * x)) / 2.0


def integrate(cooler, days, end_s, stored=(), loads=(), sun=()):
    """Continuous two-phase model by scipy: [time, temperature, ice] samples.

    Meltwater is drained; frozen food and packs are not handled.
    """
    latent_j = 333.55e3
    lid_w = cooler.lid_w_per_k
    events = sorted(
        {T0, end_s, *(s.in_s for s in stored), *(s.out_s for s in stored)}
        | {x.at_s for x in loads}
        | {t for span in sun for t in span}
    )
    events = [t for t in events if T0 <= t <= end_s]
    capacity = cooler.liner_kj_per_k * 1e3
    temp_c, ice_kg = (4.0 if cooler.pre_chilled else air_c(days, T0)), 0.0
    rows = []
    for start, stop in zip(events, [*events[1:], None], strict=True):
        for s in stored:
            heat = s.mass_kg * s.cp_kj_per_kg_k * 1e3
            if s.out_s == start and s.in_s < start:
                capacity -= heat
        for s in stored:
            heat = s.mass_kg * s.cp_kj_per_kg_k * 1e3
            if s.in_s == start:
                temp_c = (temp_c * capacity + heat * s.temp_c) / (capacity + heat)
                capacity += heat
        ice_kg += sum(x.kg for x in loads if x.at_s == start)
        melt = min(ice_kg, capacity * temp_c / latent_j)
        ice_kg -= melt
        temp_c -= melt * latent_j / capacity
        rows.append((start, temp_c, ice_kg))
        if stop is None:
            break
        in_sun = any(a <= start < b for a, b in sun)

        def gain_w(t, inside_c, in_sun=in_sun):
            air = air_c(days, t)
            skin = air + (cooler.sun_excess_k if in_sun else 0.0)
            return cooler.ua_w_per_k * (skin - inside_c) + lid_w * (air - inside_c)

        t = start
        if ice_kg > 0.0:
            gone = lambda _t, y: y[0]  # noqa: E731
            gone.terminal, gone.direction = True, -1
            out = solve_ivp(
                lambda t, _y: [-gain_w(t, 0.0) / latent_j],
                (start, stop),
                [ice_kg],
                events=gone,
                max_step=900.0,
                rtol=1e-8,
            )
            rows += [(a, 0.0, max(b, 0.0)) for a, b in zip(out.t[1:], out.y[0][1:], strict=True)]
            t, ice_kg, temp_c = out.t[-1], max(out.y[0][-1], 0.0), 0.0
            if t < stop:
                ice_kg = 0.0
        if t < stop:
            now = capacity
            out = solve_ivp(
                lambda t, y, now=now: [gain_w(t, y[0]) / now],
                (t, stop),
                [temp_c],
                max_step=900.0,
                rtol=1e-8,
            )
            rows += [(a, b, 0.0) for a, b in zip(out.t[1:], out.y[0][1:], strict=True)]
            temp_c = out.y[0][-1]
    return np.array(rows)
