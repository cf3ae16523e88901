"""One box for everything: jobs, applications, clients, houses and instruments."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.db.models import Q, QuerySet
from django.http import HttpResponse
from django.urls import reverse

from agency.houses.models import Building, House
from agency.instruments.models import Instrument
from agency.intake.models import Application
from agency.jobs.models import Job
from agency.people.models import Client

from .access import DeskRequest, desk_only
from .pages import render_page

SHORTEST = 2
"""Characters; one letter finds everything. Own choice."""
SHOWN = 10
"""Of each kind; more is said, with the list that has them all. Own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hit:
    """One record that was found."""

    url: str
    name: str
    detail: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Hits:
    """What was found of one kind; `more` is the list that shows all of it."""

    title: str
    hits: tuple[Hit, ...]
    more: str


@desk_only
def search(request: DeskRequest) -> HttpResponse:
    """What the words in the address are found in, a fixed number of queries."""
    asked = " ".join(request.GET.get("q", "").split())
    is_short = 0 < len(asked) < SHORTEST
    found = [] if not asked or is_short else [one for one in _found(asked) if one.hits]
    context = {"asked": asked, "found": found, "is_short": is_short, "shortest": SHORTEST}
    return render_page(request, "office/search.html", context, section="search")


def _found(asked: str) -> Iterator[Hits]:
    yield _hits(
        "Jobs",
        Job.objects.matching(asked).with_people().order_by("-opened_on", "-number"),
        lambda job: Hit(
            url=reverse("office:job", args=[job.pk]),
            name=str(job),
            detail=f"{job.client}, {job.house.one_line}; {job.get_status_display().lower()}",
        ),
        more="office:jobs",
        asked=asked,
    )
    yield _hits(
        "Applications",
        Application.objects.matching(asked).with_people(),
        lambda one: Hit(
            url=reverse("office:application", args=[one.pk]),
            name=str(one),
            detail=f"{one.client}, {one.house.one_line}; {one.get_status_display().lower()}",
        ),
        more="office:applications",
        asked=asked,
    )
    yield _hits(
        "Clients",
        Client.objects.filter(each_word_in(asked, "name", "phone")),
        lambda one: Hit(
            url=reverse("office:client", args=[one.pk]), name=one.name, detail=one.phone
        ),
        more="office:clients",
        asked=asked,
    )
    yield _hits(
        "Houses",
        House.objects.filter(each_word_in(asked, "address", "city", "unit", "parcel")),
        lambda one: Hit(
            url=reverse("office:house", args=[one.pk]), name=one.one_line, detail=one.parcel
        ),
        more="office:houses",
        asked=asked,
    )
    yield from _things(asked)


def _things(asked: str) -> Iterator[Hits]:
    yield _hits(
        "Buildings",
        Building.objects.filter(each_word_in(asked, "name", "address", "city", "parcel")),
        lambda one: Hit(
            url=reverse("office:building", args=[one.pk]), name=one.name, detail=one.address
        ),
        more="office:buildings",
        asked=asked,
    )
    yield _hits(
        "Instruments",
        Instrument.objects.filter(each_word_in(asked, "serial", "description")),
        lambda one: Hit(
            url=reverse("office:instrument", args=[one.pk]),
            name=one.serial,
            detail=one.get_kind_display(),
        ),
        more="office:instruments",
        asked=asked,
    )


def each_word_in(asked: str, *fields: str) -> Q:
    """Every word is in one of the fields."""
    every = Q()
    for word in asked.split():
        any_field = Q()
        for field in fields:
            any_field |= Q(**{f"{field}__icontains": word})
        every &= any_field
    return every


def _hits(
    title: str,
    rows: "QuerySet[Any]",
    hit: Callable[[Any], Hit],
    *,
    more: str,
    asked: str,
) -> Hits:
    few = list(rows[: SHOWN + 1])
    address = f"{reverse(more)}?{urlencode({'q': asked})}" if len(few) > SHOWN else ""
    return Hits(title=title, hits=tuple(hit(row) for row in few[:SHOWN]), more=address)
