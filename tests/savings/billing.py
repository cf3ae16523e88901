"""Weather and bills for the tests of measured savings, made from known parameters."""

from datetime import date

import numpy as np

from agency.savings.bills import BillTable, Weather
from agency.savings.change_point import Search

FIRST_DAY = date(2023, 1, 1)
SEARCH = Search(lowest=7.0, highest=23.0, coarse=5, fine=0.05)
LENGTHS = np.array([30, 31, 29, 33, 30, 28, 31, 32, 28, 30, 31, 30])
OPENINGS = np.cumsum(LENGTHS) - LENGTHS


def daily(days=365, *, mean=11.0, swing=12.0, noise=3.0, seed=5):
    """A year of daily means with a cold January. [°C]"""
    rng = np.random.default_rng(seed)
    season = mean - swing * np.cos(2 * np.pi * (np.arange(days) - 15) / 365)
    return season + noise * rng.standard_normal(days)


YEAR = daily()
WEATHER = Weather(first_day=FIRST_DAY, temperature=YEAR)
NORMAL = daily(seed=6)


def per_day(beyond, *, openings=OPENINGS, lengths=LENGTHS):
    """Mean of a daily figure over each bill, day by day."""
    return np.array([beyond[o : o + n].mean() for o, n in zip(openings, lengths, strict=True)])


def heating_days(base, temperature=YEAR):
    return per_day(np.maximum(0, base - temperature))


def cooling_days(base, temperature=YEAR):
    return per_day(np.maximum(0, temperature - base))


def table_of(rates):
    """Twelve bills for each row of rates. [J/day]"""
    rates = np.atleast_2d(rates)
    return BillTable(
        rate=rates,
        days=np.tile(LENGTHS, (len(rates), 1)),
        first=np.tile(OPENINGS, (len(rates), 1)),
    )


def noise(homes, *, spread, seed):
    """Errors of bills, smaller for longer ones, as those of independent days are."""
    rng = np.random.default_rng(seed)
    return spread * rng.standard_normal((homes, 12)) * np.sqrt(LENGTHS.mean() / LENGTHS)
