"""Which assumption moves a result most: each in turn at its low and its high, the rest kept."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from agency.savings.cost_effectiveness import Verdict
from agency.savings.errors import EconomicsError
from agency.savings.showing import Range

Evaluate = Callable[[Mapping[str, float]], Verdict]
"""The result for one set of assumptions by name, worked out from the beginning."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """What one assumption does to the result."""

    name: str
    assumed: Range
    """In the assumption's own unit."""
    at_low: Verdict
    """Result with the assumption at its low; not always the lower result."""
    at_high: Verdict

    @property
    def swing(self) -> float:
        """Distance between both net present values. [$]"""
        return abs(self.at_high.npv - self.at_low.npv)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tornado:
    """The result as assumed, and a bar for each assumption, widest first."""

    base: Verdict
    bars: tuple[Bar, ...]

    @property
    def turning(self) -> tuple[str, ...]:
        """Assumptions that alone can turn a pass into a failure, or the reverse."""
        return tuple(
            bar.name
            for bar in self.bars
            if {bar.at_low.passes, bar.at_high.passes} != {self.base.passes}
        )


def tornado(assumptions: Mapping[str, Range], *, evaluate: Evaluate) -> Tornado:
    """Vary one assumption at a time.

    Parameters
    ----------
    assumptions : mapping
        Low, central and high of each by name: energy price, discount rate, leakage saved ...
    evaluate : callable
        Called once with all central values, then twice for each assumption.

    Raises
    ------
    EconomicsError
        No assumption, or one whose low, central and high are not in this order.

    Notes
    -----
    Ranges are not probabilities and interactions are not seen; bars must not be added up.
    Equal swings keep the order given.
    """
    if not assumptions:
        raise EconomicsError("no assumption is given to vary. Name at least one with its range.")
    for name, assumed in assumptions.items():
        if not assumed.low <= assumed.central <= assumed.high:
            raise EconomicsError(
                f"{name} is {assumed.low:g}, {assumed.central:g}, {assumed.high:g}; low must not "
                "be above central, nor central above high. Correct its range."
            )
    central = {name: assumed.central for name, assumed in assumptions.items()}
    bars = [
        Bar(
            name=name,
            assumed=assumed,
            at_low=evaluate(central | {name: assumed.low}),
            at_high=evaluate(central | {name: assumed.high}),
        )
        for name, assumed in assumptions.items()
    ]
    return Tornado(
        base=evaluate(central), bars=tuple(sorted(bars, key=lambda bar: bar.swing, reverse=True))
    )
