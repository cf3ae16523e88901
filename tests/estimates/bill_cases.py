"""Bills and actual weather of one invented house, made from known parameters."""

from datetime import date, timedelta

import numpy as np

from agency.estimates.bill_inputs import BillInput, BillInputs, DailyMeans, NormalYear
from agency.rulebook.shipped import effective_on, shipped_rules

STARTED, ENDED = date(2024, 6, 10), date(2024, 6, 20)
FIRST_DAY = date(2023, 3, 1)
DAYS = 960
THERM = 105_505_585.262
"""[J]  100,000 Btu of 1055.05585262 J, definition."""
LENGTHS = (30, 31, 29, 33, 30, 28, 31, 32, 28, 30, 31, 30)


def daily(days=DAYS, *, first=FIRST_DAY, mean=9.0, swing=14.0, noise=3.0, seed=5):
    """Daily means with cold Januaries. [°C]"""
    rng = np.random.default_rng(seed)
    of_year = np.array([(first + timedelta(days=n)).timetuple().tm_yday for n in range(days)])
    season = mean - swing * np.cos(2 * np.pi * (of_year - 15) / 365)
    return season + noise * rng.standard_normal(days)


YEARS = daily()
NORMAL = daily(365, first=date(2023, 1, 1), seed=6)
WEATHER = DailyMeans(
    station="Tarn Hollow airfield", first_day=FIRST_DAY, means=tuple(map(float, YEARS))
)
TYPICAL = NormalYear(
    station="Tarn Hollow airfield", kind="EPW", sha256="0" * 64, means=tuple(map(float, NORMAL))
)


def rates(*, load, slope, base, cooling=0.0, cooling_base=21.0):
    """Use of each day of `YEARS`. [therms/day]"""
    heating = slope * np.maximum(0, base - YEARS)
    return load + heating + cooling * np.maximum(0, YEARS - cooling_base)


BEFORE = rates(load=0.8, slope=0.22, base=16.0)
AFTER = rates(load=0.8, slope=0.15, base=15.0)


def bills_of(use, first, *, lengths=LENGTHS, noise=0.0, seed=1, estimated=()):
    """Bills in a row from `first` on; `use` is what each day used. [therms/day]"""
    rng = np.random.default_rng(seed)
    made, start = [], first
    for place, length in enumerate(lengths):
        at = (start - FIRST_DAY).days
        therms = use[at : at + length].sum() + noise * length * rng.standard_normal()
        made.append(
            BillInput(
                start=start,
                end=start + timedelta(days=length),
                energy=float(therms) * THERM,
                estimated=place in estimated,
            )
        )
        start += timedelta(days=length)
    return made


def two_years(*, noise=0.05, before=BEFORE, after=AFTER, lengths=LENGTHS):
    """A year of bills up to the work, one across it, and a year from its end on."""
    first = STARTED - timedelta(days=sum(lengths) + 5)
    was = bills_of(before, first, lengths=lengths, noise=noise)
    across = bills_of(before, was[-1].end, lengths=(29,))
    now = bills_of(after, across[-1].end, lengths=lengths, noise=noise, seed=2)
    return (*was, *across, *now)


def rules():
    """Every rule of the bills as shipped."""
    book = effective_on(shipped_rules(), ENDED)
    return {rule.code: rule for rule in book if rule.code.startswith("bills.")}


def inputs(**changes):
    """A gas account with a year of bills on each side."""
    values = {
        "fuel": "natural_gas",
        "model": "3P heating",
        "bills": two_years(),
        "work_started_on": STARTED,
        "work_ended_on": ENDED,
        "weather": WEATHER,
        "normal": TYPICAL,
        "no_normal_because": "",
        "rules": rules(),
    }
    return BillInputs(**(values | changes))
