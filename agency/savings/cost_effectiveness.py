"""Savings-to-investment ratios of single measures and of the package they make."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from math import fsum, isfinite

from agency.savings.errors import EconomicsError


class Kind(StrEnum):
    """Why a measure is installed."""

    ENERGY = "energy"
    """To save energy; it must pay for itself."""
    HEALTH_AND_SAFETY = "health_and_safety"
    """To remove a hazard; 10 CFR 440.21(c) excepts it from the test."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """What one measure costs. All costs in dollars of today. [$]"""

    code: str
    material: float
    installation: float
    supervision: float
    """On-site supervisory personnel."""
    repairs: float = 0.0
    """Incidental repairs without which the measure could not be installed or would not last."""
    kind: Kind = Kind.ENERGY

    @property
    def tested_cost(self) -> float:
        """What the measure's own saving must pay for: 10 CFR 440.21(c). [$]"""
        return self.material + self.installation + self.supervision

    @property
    def whole_cost(self) -> float:
        """With its repairs, which the package must pay for. [$]"""
        return self.tested_cost + self.repairs


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """A saving held against its cost; unrounded."""

    present_value: float
    """Lifetime energy cost saved, discounted. [$]"""
    cost: float
    """[$]"""
    required: float
    """Ratio asked for. [-]"""

    @property
    def sir(self) -> float | None:
        """Savings-to-investment ratio; None where nothing is spent. [-]"""
        return self.present_value / self.cost if self.cost > 0 else None

    @property
    def npv(self) -> float:
        """Net present value. [$]"""
        return self.present_value - self.cost

    @property
    def passes(self) -> bool:
        """The saving equals or exceeds what is asked for; never by rounding up.

        A product, not a quotient, so that what costs nothing is judged too.
        """
        return self.present_value >= self.required * self.cost


@dataclass(frozen=True, slots=True, kw_only=True)
class PackageVerdict:
    """Each measure by itself and all of them together."""

    measures: Mapping[str, Verdict]
    """By code, in the order given; health and safety is not among them."""
    package: Verdict
    """With incidental repairs in the cost."""
    excepted_cost: float
    """Health and safety, beside the test. [$]"""

    @property
    def failing(self) -> tuple[str, ...]:
        """Measures that do not pay for themselves, whatever the package does."""
        return tuple(code for code, verdict in self.measures.items() if not verdict.passes)

    @property
    def passes(self) -> bool:
        """Each measure and the package are cost-effective."""
        return self.package.passes and not self.failing


def judge(
    measures: Iterable[Measure], *, present_values: Mapping[str, float], required: float
) -> PackageVerdict:
    r"""Judge every measure and their package.

    .. math:: \mathrm{SIR}_i = \frac{PV_i}{material_i + installation_i + supervision_i}, \quad
       \mathrm{SIR} = \frac{\sum PV_i}{\sum (cost_i + repairs_i)}

    Parameters
    ----------
    measures : iterable of Measure
    present_values : mapping
        Lifetime energy cost saved by each energy measure, by code, with the interaction of the
        others counted. [$]
    required : float
        Ratio asked for, 1 in 10 CFR 440.21(c); from the rule book. [-]

    Raises
    ------
    EconomicsError
        A code twice, a cost below 0, a saving that is missing or not finite.

    Notes
    -----
    That incidental repairs count in the package and not in the measure is programme guidance,
    from memory.

    References
    ----------
    .. [1] 10 CFR 440.21(c), edition of 2005, read.
    """
    everything = list(measures)
    refuse_wrong_measures(everything)
    tested = [measure for measure in everything if measure.kind is Kind.ENERGY]
    for measure in tested:
        _refuse_wrong_value(measure.code, present_values.get(measure.code))
    return PackageVerdict(
        measures={
            measure.code: Verdict(
                present_value=present_values[measure.code],
                cost=measure.tested_cost,
                required=required,
            )
            for measure in tested
        },
        package=Verdict(
            present_value=fsum(present_values[measure.code] for measure in tested),
            cost=fsum(measure.whole_cost for measure in tested),
            required=required,
        ),
        excepted_cost=fsum(
            measure.whole_cost for measure in everything if measure.kind is not Kind.ENERGY
        ),
    )


def refuse_wrong_measures(measures: Iterable[Measure]) -> None:
    """Refuse two measures of one code, and costs that are no amounts of money."""
    seen: set[str] = set()
    for measure in measures:
        if measure.code in seen:
            raise EconomicsError(
                f"{measure.code} stands twice among the measures. Give each its own code."
            )
        seen.add(measure.code)
        for field in ("material", "installation", "supervision", "repairs"):
            cost = getattr(measure, field)
            if not (cost >= 0 and isfinite(cost)):
                raise EconomicsError(
                    f"{measure.code}: {field} is {cost:g} $; it must be 0 or more. Correct the "
                    "cost."
                )


def _refuse_wrong_value(code: str, value: float | None) -> None:
    if value is None:
        raise EconomicsError(
            f"{code} has no saving. Work out its lifetime saving, or leave the measure out."
        )
    if not isfinite(value):
        raise EconomicsError(f"{code}: the saving is {value} $; it must be a finite number.")
