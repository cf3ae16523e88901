"""The inputs of a bill analysis as plain data, complete enough to do it again."""

from typing import Any

from agency.estimates.bill_inputs import BillInputs


def described(inputs: BillInputs, *, seed: int) -> dict[str, Any]:
    """Bills, days, normal year by its file's hash, and the number of every rule."""
    weather, normal = inputs.weather, inputs.normal
    return {
        "fuel": inputs.fuel,
        "model": inputs.model,
        "bills": [
            [one.start.isoformat(), one.end.isoformat(), one.energy, one.estimated]
            for one in inputs.bills
        ],
        "work_started_on": inputs.work_started_on and inputs.work_started_on.isoformat(),
        "work_ended_on": inputs.work_ended_on and inputs.work_ended_on.isoformat(),
        "weather": weather
        and {
            "station": weather.station,
            "first_day": weather.first_day.isoformat(),
            "means": list(weather.means),
        },
        "normal": normal
        and {"station": normal.station, "kind": normal.kind, "sha256": normal.sha256},
        "rules": {code: rule.limit for code, rule in sorted(inputs.rules.items())},
        "seed": seed,
    }
