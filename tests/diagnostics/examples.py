"""Documents for tests: the shipped examples, and small ones with readings worked out by hand."""

import copy
import json
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

from agency.diagnostics.bridge import kinds
from agency.diagnostics.documents import parse
from agency.diagnostics.evaluation import Context, Evaluation, InstrumentFacts
from agency.rulebook.shipped import shipped_rules

QUICK_RULES = tuple(
    replace(one, limit=2000.0) if one.code == "setting.monte-carlo-trials" else one
    for one in shipped_rules()
)
"""The shipped rule book with few Monte Carlo trials, for tests that do not look at them."""

FOLDER = Path(__file__).parent.parent / "examples"
E779, ISO, ONE_POINT = (
    "e779_both_directions.json",
    "iso9972_depressurization.json",
    "one_point.json",
)


def example(name: str = E779) -> dict[str, Any]:
    """A shipped example as plain data."""
    return json.loads((FOLDER / name).read_text())


def simple(**changes: Any) -> dict[str, Any]:
    """Air at 20 degC in and out at sea level, flows as read: no correction changes anything."""
    document = {
        "kind": "envelope",
        "client_key": "5f0a6c1e-7a52-4d0b-9a53-0e1d5b6a0009",
        "phase": "before",
        "method": "e779",
        "taken_at": "2026-10-14T10:20:00-05:00",
        "units": {
            "pressure": "Pa",
            "flow": "m3/s",
            "temperature": "degC",
            "length": "m",
            "wind_speed": "m/s",
        },
        "gauge": {"serial": "QM-G-03", "baseline_subtracted": False, "density_corrected": False},
        "conditions": {
            "indoor_temperature": 20.0,
            "outdoor_temperature": 20.0,
            "elevation": 0.0,
            "wind_speed": 1.0,
        },
        "house": {"floor_area": 150.0, "volume": 375.0, "height": 2.5, "envelope_area": 400.0},
        "series": [],
    }
    return {**document, **copy.deepcopy(changes)}


def series_of(
    points: list[tuple[float, float]], *, direction: str = "depressurization", baseline: float = 0.0
) -> dict[str, Any]:
    """A series from pairs of induced pressure and flow."""
    sign = -1 if direction == "depressurization" else 1
    return {
        "direction": direction,
        "baseline_before": {"samples": [baseline] * 12, "seconds": 60},
        "baseline_after": {"samples": [baseline] * 12, "seconds": 60},
        "points": [
            {"building_pressure": sign * pressure + baseline, "flow": flow, "seconds": 15}
            for pressure, flow in points
        ],
    }


def evaluate(data: dict[str, Any], **context: Any) -> Evaluation:
    """The evaluation of plain data, with few Monte Carlo trials."""
    return kinds.evaluate(parse(data), rules=QUICK_RULES, context=Context(**context))


KNOWN = {
    "QM-G-03": InstrumentFacts(
        serial="QM-G-03",
        calibrated_on=date(2026, 3, 2),
        due_on=date(2027, 3, 2),
        accuracy_percent=1.0,
        accuracy_pa=0.2,
        resolution_pa=0.1,
    )
}
"""The gauge of the bench documents as the register has it: `evaluate(..., instruments=KNOWN)`."""


def bench(kind: str, method: str, **readings: Any) -> dict[str, Any]:
    """A bench test in Pa, cfm, degF, ft and in², with a gauge that corrected nothing."""
    document = {
        "kind": kind,
        "client_key": "5f0a6c1e-7a52-4d0b-9a53-0e1d5b6a0010",
        "phase": "before",
        "method": method,
        "taken_at": "2026-10-14T10:20:00-05:00",
        "units": {
            "pressure": "Pa",
            "flow": "cfm",
            "temperature": "degF",
            "length": "ft",
            "opening": "in2",
            "heat": "Btu/h",
            "capacity": "ton",
            "barometer": "kPa",
        },
        "gauge": {"serial": "QM-G-03", "baseline_subtracted": False, "density_corrected": False},
    }
    return {**document, **copy.deepcopy(readings)}


def shown(evaluation: Evaluation) -> dict[str, dict[str, Any]]:
    """Figures of a bench test by their names."""
    return {one["name"]: one for one in evaluation.figures["shown"]}


def checks_of(evaluation: Evaluation, code: str) -> list[dict[str, Any]]:
    """Every check of one rule."""
    return [check for check in evaluation.checks if check["code"] == code]


def status_of(evaluation: Evaluation, code: str) -> set[str]:
    """The answers to one rule, over all series."""
    return {check["status"] for check in checks_of(evaluation, code)}
