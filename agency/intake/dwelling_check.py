"""Whether a dwelling was weatherized before, and until when that bars it."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from django.db.models import Q

from agency.houses.matching import house_number, how_the_same
from agency.houses.models import EarlierWork, House
from agency.jobs.models import Job
from agency.wording import words

from .days import months_after

YEAR = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Completion:
    """Earlier work on the same dwelling, where it is recorded and how it was recognised."""

    on: date
    record: str
    how: str

    def words(self) -> str:
        """One sentence for a page or a refusal."""
        return f"{self.record}, completed {words.day(self.on)} ({self.how})"


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """The completion that bars a dwelling, and the first day on which it no longer does."""

    completion: Completion
    ends_on: date


def completions(house: House, *, besides: UUID | None = None) -> list[Completion]:
    """Earlier work on this dwelling, newest first: the dwelling counts, not the household.

    `besides` is the job of the application itself.
    """
    found = [*_own_jobs(house, besides), *_earlier(house)]
    return sorted(found, key=lambda one: one.on, reverse=True)


def bar_on(house: House, *, on: date, years: int, besides: UUID | None = None) -> Bar | None:
    """What bars the dwelling on `on`; None when nothing does."""
    done = (one for one in completions(house, besides=besides) if one.on <= on)
    newest = next(done, None)
    if newest is None:
        return None
    ends_on = months_after(newest.on, years * YEAR)
    return Bar(completion=newest, ends_on=ends_on) if on < ends_on else None


def _own_jobs(house: House, besides: UUID | None) -> Iterator[Completion]:
    alike = Q(house__address__istartswith=house_number(house.address))
    if house.parcel:
        alike |= Q(house__parcel=house.parcel)
    if house.building_id:
        alike |= Q(house__building=house.building_id)
    passed = Job.objects.exclude(inspection_passed_on=None).exclude(status=Job.Status.WITHDRAWN)
    others = passed.exclude(pk=besides) if besides else passed
    for job in others.filter(alike | Q(house=house)).select_related("house"):
        how = _how(house, job.house)
        if how and job.inspection_passed_on:
            yield Completion(on=job.inspection_passed_on, record=str(job), how=how)


def _how(house: House, other: House) -> str:
    if house.pk == other.pk:
        return "same dwelling"
    if house.building_id and house.building_id == other.building_id and other.units > 1:
        return "the whole building was weatherized"
    return how_the_same(house, other)


def _earlier(house: House) -> Iterator[Completion]:
    alike = Q(address__istartswith=house_number(house.address))
    if house.parcel:
        alike |= Q(parcel=house.parcel)
    for work in EarlierWork.objects.filter(alike):
        how = how_the_same(house, work)
        if how:
            yield Completion(on=work.completed_on, record=work.source, how=how)
