"""How sure a measured saving is, as a fraction of it: the simplified form beside the bootstrap."""

from typing import Any

import numpy as np

from agency.estimates.bill_inputs import BillInputs
from agency.savings.change_point import Fits
from agency.savings.errors import SavingsError
from agency.savings.fit_quality import (
    FACTOR_OF_2002,
    effective_count,
    fractional_savings_uncertainty,
    lag_one_autocorrelation,
    monthly_factor_of_2014,
    student_quantile,
)
from agency.savings.savings_bootstrap import Trials

from .bill_checks import DAYS_A_MONTH


def fractional(
    inputs: BillInputs, before: Fits, after: Fits, *, trials: Trials, used_before: float
) -> dict[str, Any]:
    """Both forms at the rule book's confidence; None with the reason where there is none."""
    confidence = inputs.setting("bills.fsu_confidence")
    figures: dict[str, Any] = {
        "confidence": confidence,
        "bootstrap": None,
        "simplified_2014": None,
        "simplified_2002": None,
        "reason": "",
    }
    saved = trials.fitted
    if saved > 0:
        ends = trials.range_of(confidence=confidence)
        figures["bootstrap"] = (ends.high - ends.low) / 2 / saved
    months = float(after.table.days[0].sum()) / DAYS_A_MONTH
    try:
        count = float(before.bills[0])
        known: dict[str, Any] = {
            "cv_rmse": before.cv_rmse[0],
            "fraction_saved": saved / used_before,
            "bills_before": count,
            "effective_before": effective_count(
                count=count, autocorrelation=lag_one_autocorrelation(before.residuals[0])
            ),
            "bills_after": float(after.bills[0]),
            "quantile": student_quantile(
                confidence=confidence, degrees_of_freedom=before.degrees_of_freedom[0]
            ),
        }
        for name, factor in (
            ("simplified_2014", monthly_factor_of_2014(months)),
            ("simplified_2002", np.float64(FACTOR_OF_2002)),
        ):
            figures[name] = float(fractional_savings_uncertainty(**known, factor=factor))
    except SavingsError as error:
        text = str(error)
        figures["reason"] = text[:1].upper() + text[1:]
    return figures
