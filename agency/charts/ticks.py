"""Round values to mark on a logarithmic axis."""

import math

LADDERS = (
    (1.0,),
    (1.0, 3.0),
    (1.0, 2.0, 5.0),
    (1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 7.0),
    (1.0, 1.2, 1.4, 1.6, 1.8, 2.0, 2.5, 3.0, 3.5, 4.0, 4.5, 5.0, 6.0, 7.0, 8.0, 9.0),
    *(tuple(step / parts for step in range(parts, 10 * parts)) for parts in (2, 5, 10, 20)),
)
"""Steps within one decade, from coarse to fine. [-]"""
ENOUGH = 4
"""Marks an axis needs to be read. [-]"""


def log_ticks(low: float, high: float) -> list[float]:
    """The coarsest set of round values between two bounds that still gives enough marks."""
    found: list[float] = []
    for ladder in LADDERS:
        decades = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
        steps = (step * 10.0**decade for decade in decades for step in ladder)
        found = [step for step in steps if low <= step <= high]
        if len(found) >= ENOUGH:
            break
    return found
