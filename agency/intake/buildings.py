"""The units of a building, who of them is eligible, and whether that is enough."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from agency.houses.models import Building, House
from agency.rulebook.shipped import RuleSet
from agency.wording import words

from .book import setting, whole
from .models import Application

PERCENT = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitRow:
    """One unit of the roster and where its household stands."""

    house: House
    application: Application | None
    standing: str
    """eligible, not_eligible, expired, undecided, no_application or vacant."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EligibleShare:
    """Eligible units over all units, against the share the rule asks for."""

    eligible: int
    promised: int
    """Units that count because they are promised within the days the rule allows."""
    total: int
    needed_percent: float
    source: str

    @property
    def percent(self) -> float:
        """[%]"""
        return PERCENT * (self.eligible + self.promised) / self.total

    @property
    def is_met(self) -> bool:
        """Compared in whole units, so that no rounding decides."""
        return PERCENT * (self.eligible + self.promised) >= self.needed_percent * self.total

    @property
    def units_short(self) -> int:
        """How many more eligible units it takes; 0 when the share is met."""
        counted = self.eligible + self.promised
        return next(
            more
            for more in range(self.total + 1)
            if PERCENT * (counted + more) >= self.needed_percent * self.total
        )


def roster(building: Building, *, on: date) -> list[UnitRow]:
    """Every single unit with its newest application, in a constant number of queries."""
    houses = list(building.houses.filter(units=1).order_by("unit", "id"))
    newest: dict[object, Application] = {}
    applications = Application.objects.filter(house__in=houses).exclude(
        status=Application.Status.WITHDRAWN
    )
    for one in applications.with_decisions().order_by("received_on", "number"):
        newest[one.house_id] = one
    return [_row(house, newest.get(house.pk), on=on) for house in houses]


def eligible_share(
    building: Building, rows: Sequence[UnitRow], *, on: date, rules: RuleSet
) -> EligibleShare:
    """By the rule for a building of this size; by the general one where there is none."""
    named = f"building.eligible_share.{building.units_total}_units"
    code = named if rules.get(named) else "building.eligible_share"
    needed = float(setting(rules, code, on=on))
    rule = rules.get(code)
    source = f"{rule.standard}, {rule.provenance}" if rule else ""
    return EligibleShare(
        eligible=sum(row.standing == "eligible" for row in rows),
        promised=_promised(building, on=on, rules=rules),
        total=building.units_total,
        needed_percent=needed,
        source=source,
    )


def share_words(share: EligibleShare) -> str:
    """The answer in one sentence, with value, limit and next step."""
    counted = f"{words.number(share.eligible)} of {words.count(share.total, 'unit')} eligible"
    if share.promised:
        counted += f" and {words.number(share.promised)} promised"
    held = f"{counted}: {words.number(share.percent, 1)} %, needed {share.needed_percent:g} %"
    if share.is_met:
        return f"{held}. Enough."
    more = words.count(share.units_short, "more eligible unit")
    return f"{held}. {more} needed: find further households, or have units promised."


def _promised(building: Building, *, on: date, rules: RuleSet) -> int:
    if not building.units_promised or building.promised_by is None:
        return 0
    last = on + timedelta(days=whole(rules, "building.promise_days", on=on))
    return building.units_promised if on <= building.promised_by <= last else 0


def _row(house: House, application: Application | None, *, on: date) -> UnitRow:
    return UnitRow(
        house=house, application=application, standing=_standing(house, application, on=on)
    )


def _standing(house: House, application: Application | None, *, on: date) -> str:
    if house.is_vacant:
        return "vacant"
    if application is None:
        return "no_application"
    newest = application.determination
    if newest is None:
        return "undecided"
    if not newest.is_eligible:
        return "not_eligible"
    return "eligible" if newest.holds_on(on) else "expired"
