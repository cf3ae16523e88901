"""The kinds of figure a report is made of: units, shares, group figures, jobs under one reason."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from uuid import UUID

from agency.diagnostics.bridge.group import GroupFigure, group_reduction

from .rows import JobRow


@dataclass(frozen=True, slots=True, kw_only=True)
class Units:
    """A number of dwelling units and the jobs it is made of."""

    n: int
    jobs: tuple[UUID, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """One number of units out of another; `value` is None when there is nothing to divide by."""

    value: float | None
    part: Units
    whole: Units


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A figure of the group with the number of homes in it and their jobs."""

    name: str
    value: float | None
    uncertainty: float | None = None
    """Standard (k = 1); None when a home in it has no stored uncertainty."""
    low: float | None = None
    high: float | None = None
    """Ends of the 95 % interval."""
    n: int
    jobs: tuple[UUID, ...]
    without_uncertainty: tuple[UUID, ...] = ()
    """Homes that keep the figure from having an uncertainty."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reductions:
    """The figures of a group of pairs. Flows are sums over the pairs. [m³/s]"""

    mean_reduction: Figure
    pooled_reduction: Figure
    flow_before: Figure
    flow_after: Figure
    flow_saved: Figure


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Jobs that share one reason."""

    reason: str
    units: Units


def units_of(rows: Iterable[JobRow]) -> Units:
    """Dwelling units, not jobs: a house two grants paid for counts once, a building all it has."""
    listed = list(rows)
    units = {row.house_id: row.units for row in listed}
    return Units(n=sum(units.values()), jobs=tuple(row.job_id for row in listed))


def share_of(part: Units, whole: Units) -> Share:
    """One number of units out of another."""
    return Share(value=part.n / whole.n if whole.n else None, part=part, whole=whole)


def reductions_of(pairs: Sequence[JobRow]) -> Reductions:
    """Mean, pooled and summed figures of rows that are pairs; without a pair they have no value.

    Errors of instruments that several tests share are kept together.
    """
    group = group_reduction([pair for row in pairs if (pair := row.pair) is not None])
    jobs = tuple(row.job_id for row in pairs)
    unknown = tuple(
        row.job_id for row in pairs if row.before_share is None or row.after_share is None
    )

    def figure(name: str, found: GroupFigure | None) -> Figure:
        return Figure(
            name=name,
            value=found.value if found else None,
            uncertainty=found.uncertainty if found else None,
            low=found.low if found else None,
            high=found.high if found else None,
            n=len(jobs),
            jobs=jobs,
            without_uncertainty=unknown,
        )

    def total(name: str, value: float | None) -> Figure:
        return Figure(name=name, value=value, n=len(jobs), jobs=jobs)

    return Reductions(
        mean_reduction=figure("Mean of the homes' reductions", group.mean if group else None),
        pooled_reduction=figure(
            "Pooled reduction, all flow saved over all flow before", group.pooled if group else None
        ),
        flow_saved=figure("Flow saved, all pairs", group.saved if group else None),
        flow_before=total("Flow before, all pairs", group.flow_before if group else None),
        flow_after=total("Flow after, all pairs", group.flow_after if group else None),
    )


def grouped(
    rows: Sequence[JobRow], reasons: Callable[[JobRow], tuple[str, ...]]
) -> tuple[Group, ...]:
    """Each job under its reasons taken together, so that the groups add up; largest first."""
    found: dict[str, list[JobRow]] = {}
    for row in rows:
        found.setdefault("; ".join(reasons(row)), []).append(row)
    groups = [Group(reason=reason, units=units_of(members)) for reason, members in found.items()]
    return tuple(sorted(groups, key=lambda group: (-group.units.n, group.reason)))
