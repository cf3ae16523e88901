"""Bills and the actual weather of some approved homes, taken in and measured like any others."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta

import numpy as np
from django.utils import timezone
from numpy.typing import NDArray

from agency import bill_workflows
from agency.estimates.bill_files import DateOrder, Ending
from agency.estimates.bill_importing import import_bill_file, keep_bill_file
from agency.estimates.bill_reading import csv_reading
from agency.estimates.bill_studies import BillStudy, NonRoutineChange
from agency.estimates.billing import BillFile, UtilityAccount
from agency.estimates.bridge.units import joules_in, shown_unit
from agency.estimates.daily_means import Degrees
from agency.estimates.day_importing import import_days
from agency.estimates.models import SavingsEstimate
from agency.estimates.realizing import predicted_saving
from agency.programs.models import Fuel

from .histories import Life, Staff, work_off
from .registers import fixed_id

Array = NDArray[np.float64]

MOST_HOMES = 30
BILLED = (Fuel.GAS, Fuel.ELECTRICITY)
"""Fuels a meter counts; the others come by the load."""
DAYS_BEFORE, DAYS_AFTER = 400, 300
"""Bills reach so far back, and a home has so many days after its work at least."""
WEATHER_SEED = 31
BASE, BASE_SPREAD = 15.0, 1.2
"""Outdoor temperature at which a house begins to be heated. [°C]"""
SCATTER = 0.04
"""A month's habits, as a share of its bill. [-]"""
REALIZED, REALIZED_SPREAD = 0.85, 0.3
"""What the invented houses truly save of what is predicted. [-]"""
GAP_BEFORE = 12
"""Two days are missing so many days after the record begins, before any bill."""
FADED, HABITS, FEW = 4, 9, 14
"""Homes with an estimated reading, with a wood stove nobody told of, and with too few bills."""
CHANGES = {
    6: ("occupancy", "Two grandchildren have moved in.", ""),
    11: ("added_load", "A freezer was put in the garage.", "It was there in both years."),
}


def write_bills(lives: Iterable[Life], staff: Staff, now: datetime) -> None:
    """The weather first, then each home's account, bills, study and what else changed there."""
    today = timezone.localtime(now).date()
    chosen = _chosen(lives, today)
    if not chosen:
        return
    began = min(life.story.work_started_on or today for life in chosen)
    first = began - timedelta(days=DAYS_BEFORE + 40)
    means = daily_means(first, (today - first).days)
    content = _weather_csv(first, means)
    import_days(
        fixed_id("weather"),
        name="tarn-hollow-daily-means.csv",
        content=content,
        degrees=Degrees.CELSIUS,
        by=staff.office,
        now=now,
    )
    studies = [
        _write_home(life, staff, place, first=first, means=means, now=now)
        for place, life in enumerate(chosen)
    ]
    bill_workflows.promise_studies(studies)
    _write_waiting_file(chosen[0], staff)
    work_off()


def daily_means(first: date, days: int) -> Array:
    """The days that were: another draw of the climate the normal year is of. [°C]"""
    rng = np.random.default_rng(WEATHER_SEED)
    of_year = np.array([(first + timedelta(days=n)).timetuple().tm_yday for n in range(days)])
    season = -np.cos(2 * np.pi * (of_year - 20) / 365.25)
    fronts, state = np.empty(days), 0.0
    for place, push in enumerate(rng.standard_normal(days)):
        state = 0.6 * state + 0.8 * push
        fronts[place] = state
    return np.asarray(7.3 + 15.8 * season + (4.4 - 1.2 * season) * fronts)


def _chosen(lives: Iterable[Life], today: date) -> list[Life]:
    """Metered homes with a prediction and long enough after their work."""
    old = [
        life
        for life in lives
        if life.story.approved_on
        and life.story.inspected_on
        and life.story.work_started_on
        and (today - life.story.inspected_on).days >= DAYS_AFTER
        and life.home.record["heating_fuel"] in BILLED
    ]
    return old[:MOST_HOMES]


def _write_home(
    life: Life, staff: Staff, place: int, *, first: date, means: Array, now: datetime
) -> BillStudy:
    fuel = life.home.record["heating_fuel"]
    account = UtilityAccount.objects.create(
        id=fixed_id("account", life.story.number),
        house=life.job.house,
        fuel=fuel,
        opened_by=staff.office,
    )
    use = _use(life, place, means, first)
    kept = _keep(account, life, _bills_csv(life, place, use, first), staff)
    import_bill_file(kept.pk, staff.office, now=now)
    if place in CHANGES:
        kind, note, reason = CHANGES[place]
        change = NonRoutineChange.objects.create(
            job=life.job,
            kind=kind,
            since=_ended(life) + timedelta(days=90),
            note=note,
            noted_by=staff.office,
        )
        if reason:
            change.confirm(staff.manager, reason)
    return BillStudy.objects.create(
        id=fixed_id("study", life.story.number),
        job=life.job,
        account=account,
        model=BillStudy.Model.HEATING,
        asked_by=staff.office,
    )


def _use(life: Life, place: int, means: Array, first: date) -> Array:
    """Energy the house used on each day. [J]"""
    rng = np.random.default_rng([2027, life.story.number])
    fuel, area = life.home.record["heating_fuel"], life.home.record["floor_area_sqft"]
    mmbtu = joules_in(fuel=fuel, unit="MMBtu", btu_per_cubic_foot=None) or 0.0
    efficiency = life.home.record["heating_efficiency"]
    heating = mmbtu * area * 0.045 * rng.uniform(0.8, 1.2) / efficiency
    saved = mmbtu * (_predicted(life) or 0.0) * (REALIZED + REALIZED_SPREAD * rng.standard_normal())
    base = BASE + BASE_SPREAD * rng.standard_normal()
    below = np.maximum(0.0, base - means)
    year = below.sum() * 365 / len(means)
    load = heating * rng.uniform(0.0006, 0.0011)
    before = load + heating / year * below
    after = load + max(heating - saved, 0.2 * heating) / year * below
    days = [first + timedelta(days=n) for n in range(len(means))]
    use = np.where([day < (life.story.work_started_on or day) for day in days], before, after)
    if place == HABITS:
        lit = rng.random(len(means) // 30 + 1) < 0.5
        use = np.where(np.repeat(lit, 30)[: len(means)], 0.15 * use, use)
    return np.asarray(use)


def _predicted(life: Life) -> float | None:
    estimate = SavingsEstimate.objects.filter(job=life.job).first()
    fuel = life.home.record["heating_fuel"]
    return None if estimate is None else predicted_saving(estimate, fuel)


def _bills_csv(life: Life, place: int, use: Array, first: date) -> bytes:
    """Monthly bills as a supplier writes them, up to the last reading."""
    rng = np.random.default_rng([2028, life.story.number])
    started = life.story.work_started_on or first
    start = started - timedelta(days=DAYS_BEFORE if place != FEW else 200)
    _, joules = shown_unit(life.home.record["heating_fuel"])
    rows = ["From,To,Energy,Reading"]
    while True:
        end = start + timedelta(days=int(rng.integers(28, 34)))
        if (end - first).days > len(use):
            break
        energy = use[(start - first).days : (end - first).days].sum() / joules
        energy *= 1 + SCATTER * rng.standard_normal()
        guessed = place == FADED and len(rows) == 6
        rows.append(f"{start},{end},{energy:.1f},{'estimated' if guessed else 'actual'}")
        start = end
    return "\r\n".join(rows).encode()


def _keep(account: UtilityAccount, life: Life, content: bytes, staff: Staff) -> BillFile:
    reading = csv_reading(
        account,
        start="From",
        end="To",
        energy="Energy",
        estimated="Reading",
        unit=shown_unit(account.fuel)[0],
        btu_per_cubic_foot=None,
        ending=Ending.READING_DAY,
        order=DateOrder.SHOWN_BY_THE_FILE,
        delimiter=",",
        corrections=False,
    )
    return keep_bill_file(
        account,
        name=f"bills-{life.job.number}.csv",
        content=content,
        kind=BillFile.Kind.CSV,
        reading=reading,
        by=staff.office,
    )


def _write_waiting_file(life: Life, staff: Staff) -> None:
    """A file whose rows somebody has still to put right."""
    rows: Sequence[str] = (
        "From,To,Energy,Reading",
        '2024-01-05,2024-02-04,"1,204",actual',
        "2024-02-04,2024-01-05,96.0,actual",
        "2024-03-06,2024-04-05,71.5,actual",
    )
    account = UtilityAccount.objects.get(pk=fixed_id("account", life.story.number))
    _keep(account, life, "\r\n".join(rows).encode(), staff)


def _ended(life: Life) -> date:
    ended = life.story.inspected_on
    assert ended is not None
    return ended


def _weather_csv(first: date, means: Array) -> bytes:
    rows = [
        f"{first + timedelta(days=place)},{mean:.2f}"
        for place, mean in enumerate(means)
        if place not in {GAP_BEFORE, GAP_BEFORE + 1}
    ]
    return "\n".join(["day,mean", *rows]).encode()
