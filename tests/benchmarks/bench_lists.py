"""How much slower list pages are at 100,000 jobs than at 1,000; run it as a script, it is no test.

It makes a database of its own beside the one of DATABASE_URL, and drops it at the end.
"""

import os
import sys
import tempfile
import time
from collections.abc import Iterable
from datetime import date, timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))
os.environ.setdefault("HEARTHLEDGER_MODE", "test")
os.environ.setdefault("DATA_DIR", tempfile.mkdtemp(prefix="hearthledger-bench-"))
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "agency.config.settings")

import django

django.setup()  # before the models are read

from django.db import connection, reset_queries  # noqa: E402
from django.test import Client as Browser  # noqa: E402
from django.test.utils import get_runner, override_settings, setup_test_environment  # noqa: E402
from django.urls import reverse  # noqa: E402

from agency.accounts.models import User  # noqa: E402
from agency.houses.models import House  # noqa: E402
from agency.jobs.models import Job  # noqa: E402
from agency.people.models import Client, Crew  # noqa: E402
from agency.programs.models import County, Program  # noqa: E402

SIZES, REPEATS, BATCH = (1_000, 100_000), 5, 5_000
FIRST = date(2020, 1, 1)
HEADS = ("Lark", "Cold", "Heron", "Quarry", "Wind", "Lantern", "Maple", "Bell", "Thistle", "Tama")
TAILS = ("spur", "water", "ford", "row", "hill", "seed", "wether", "down", "rack", "berry")
STATUSES = ("scheduled", "in_progress", "tested_out", "rework", "withdrawn")
PAGES = (
    ("jobs", {}),
    ("jobs", {"page": "20"}),
    ("jobs", {"status": "rework"}),
    ("jobs", {"q": "QC-20-000520"}),
    ("jobs", {"q": "Lark row-000520"}),
    ("jobs", {"q": "520 Larkspur"}),
    ("clients", {}),
    ("clients", {"q": "Lark row-000520"}),
    ("houses", {}),
    ("houses", {"q": "520 Larkspur"}),
    ("search", {"q": "QC-20-000520"}),
    ("search", {"q": "Lark row-000520"}),
    ("search", {"q": "520 Larkspur"}),
)


def main() -> None:
    """Print time and queries of each page at both sizes, and their ratio."""
    setup_test_environment()
    runner = get_runner(django.conf.settings)(verbosity=0, interactive=False)
    made = runner.setup_databases()
    try:
        measured = [_measure(size) for size in SIZES]
    finally:
        runner.teardown_databases(made)
    print(f"{connection.vendor}; best of {REPEATS}, in this process; {SIZES[0]:,} and {SIZES[1]:,}")
    for (name, query), small, large in zip(PAGES, *measured, strict=True):
        words = "&".join(f"{key}={value}" for key, value in query.items()) or "first page"
        same = "same" if small[1] == large[1] else f"{small[1]} and {large[1]}"
        print(
            f"{name:8} {words:22} {small[0] * 1e3:7.1f} ms {large[0] * 1e3:7.1f} ms"
            f"  ratio {large[0] / small[0]:5.1f}  queries {same}"
        )


def _measure(size: int) -> list[tuple[float, int]]:
    _fill(size)
    user = User.objects.get_or_create(username="odette", defaults={"role": "office"})[0]
    browser = Browser()
    browser.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    return [_best(browser, reverse(f"office:{name}"), query) for name, query in PAGES]


def _best(browser: Browser, address: str, query: dict[str, str]) -> tuple[float, int]:
    """Shortest of several times [s], and how many queries one page takes."""
    seconds = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        answer = browser.get(address, query)
        seconds.append(time.perf_counter() - start)
        assert answer.status_code == 200
    with override_settings(DEBUG=True):
        reset_queries()
        browser.get(address, query)
        return min(seconds), len(connection.queries)


def _fill(size: int) -> None:
    """Bring the tables up to `size` jobs, each with a house and a client of its own."""
    county = County.objects.get_or_create(code="99001", defaults={"name": "Quillmoor"})[0]
    crew = Crew.objects.get_or_create(name="Crew Alder")[0]
    program = Program.objects.get_or_create(
        grant_number="QM-1",
        defaults={"name": "Q", "first_day": FIRST, "last_day": date(2030, 1, 1)},
    )[0]
    for first in range(Job.objects.count(), size, BATCH):
        numbers = range(first, min(first + BATCH, size))
        houses = House.objects.bulk_create(_houses(numbers, county))
        clients = Client.objects.bulk_create(
            Client(
                name=f"{HEADS[one % 10]} {TAILS[one // 10 % 10]}-{one:06}",
                phone="555-0142",
            )
            for one in numbers
        )
        Job.objects.bulk_create(
            Job(
                number=f"QC-20-{one:06}", house=house, client=client, crew=crew, program=program,
                status=STATUSES[one % len(STATUSES)], opened_on=FIRST + timedelta(days=one % 2000),
            )
            for one, house, client in zip(numbers, houses, clients, strict=True)
        )  # fmt: skip
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def _houses(numbers: Iterable[int], county: County) -> list[House]:
    return [
        House(
            address=f"{one % 980} {HEADS[one % 10]}{TAILS[one // 10 % 10]} Lane",
            city="Tarn Hollow", state="QM", postal_code="00155", county=county,
            dwelling=House.Dwelling.SINGLE_FAMILY, parcel=f"12-{one:06}",
        )
        for one in numbers
    ]  # fmt: skip


if __name__ == "__main__":
    main()
