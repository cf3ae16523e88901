"""Bridge from predicted and measured savings to what a programme realized."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import asdict
from typing import Any

from agency.estimates.bill_inputs import HomeSaving, RealizationInputs
from agency.leakage.version import MATHS_VERSION
from agency.savings.errors import SavingsError
from agency.savings.realization import FEWEST_HOMES, realization

from .hashing import hash_of

METHOD = "measured over predicted saving: ratio of sums and mean of ratios, percentile bootstrap"
EDITION = "Efron and Tibshirani (1993), from memory"
SEED = 20260102
"""Of the bootstrap over homes: the same homes must give the same range. [-]"""
ALL = "all"
"""All fuels together, as site energy."""


def realize(inputs: RealizationInputs) -> dict[str, Any]:
    """A row's method, inputs, hash, figures and refusals; refused below two homes."""
    told = asdict(inputs) | {"seed": SEED}
    told = {
        name: list(value) if isinstance(value, tuple) else value for name, value in told.items()
    }
    figures, refusals = _figures(inputs)
    return {
        "method": METHOD,
        "edition": EDITION,
        "maths_version": MATHS_VERSION,
        "inputs": told,
        "input_hash": hash_of(told, method=METHOD, edition=EDITION, maths_version=MATHS_VERSION),
        "figures": figures,
        "refusals": refusals,
    }


def _figures(inputs: RealizationInputs) -> tuple[dict[str, Any], list[str]]:
    by_fuel: dict[str, list[HomeSaving]] = defaultdict(list)
    for home in inputs.homes:
        by_fuel[home.fuel].append(home)
    if not inputs.homes:
        return {}, ["No home has both a predicted saving and a measured one that may count."]
    groups: dict[str, Any] = {}
    refusals: list[str] = []
    for name, homes in [(ALL, list(inputs.homes)), *sorted(by_fuel.items())]:
        try:
            groups[name] = _group(inputs, homes)
        except SavingsError as error:
            groups[name] = None
            if name == ALL:
                refusals.append(str(error)[:1].upper() + str(error)[1:])
    return {
        "groups": groups,
        "confidence": inputs.confidence,
        "trials": inputs.trials,
        "seed": SEED,
    }, refusals


def _group(inputs: RealizationInputs, homes: Iterable[HomeSaving]) -> dict[str, Any]:
    """Homes that buy two fuels count once, with the sum of both."""
    sums: dict[str, list[float]] = defaultdict(lambda: [0.0, 0.0])
    for home in homes:
        sums[home.job][0] += home.predicted
        sums[home.job][1] += home.measured
    predicted, measured = zip(*sums.values(), strict=True)
    if len(sums) < FEWEST_HOMES:
        raise SavingsError(
            f"{len(sums)} home may count; a rate with a range needs {FEWEST_HOMES}. Wait for more."
        )
    found = realization(
        predicted=predicted,
        measured=measured,
        confidence=inputs.confidence,
        trials=inputs.trials,
        seed=SEED,
    )
    return {
        "homes": found.homes,
        "predicted": sum(predicted),
        "measured": sum(measured),
        "ratio_of_sums": asdict(found.ratio_of_sums),
        "mean_of_ratios": asdict(found.mean_of_ratios),
    }
