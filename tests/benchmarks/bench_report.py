"""Times the report of a quarter against one SQL aggregate over the same jobs, on both databases.

Run: python -m tests.benchmarks.bench_report
"""

import os
import subprocess
import sys
import tempfile
import time
import uuid
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

import numpy as np

from tests.environment import POSTGRES, postgres_lets_us_in

SIZES = (10_000, 100_000)
BATCH = 2_000
ROUNDS = 2
NOW = datetime(2026, 7, 2, 12, 0, tzinfo=UTC)
Answer = tuple[int, float, float]
"""Units, mean and pooled reduction."""
SPLIT = {"random": 0.012, "systematic": 0.03, "gauge": 0.01, "fan": 0.025, "other": 0.012}


def fill(first: int, last: int) -> None:
    """Jobs with two accepted tests and a comparison each; ten crews' fans, forty counties."""
    from agency.accounts.models import Device, User
    from agency.diagnostics.models import Comparison, Result, TestRun
    from agency.houses.models import House
    from agency.jobs.models import Job
    from agency.people.models import Client, Crew
    from agency.programs.models import County, Fuel, Program

    user = User.objects.get_or_create(username="bench", defaults={"role": "crew"})[0]
    device = Device.objects.get_or_create(user=user, label="bench")[0]
    client = Client.objects.get_or_create(name="Odalys Fenwright", phone="555-0142")[0]
    days = {"first_day": date(2026, 1, 1), "last_day": date(2026, 12, 31), "name": "Bench"}
    program = Program.objects.get_or_create(grant_number="QM-26-99", defaults=days)[0]
    crews = [Crew.objects.get_or_create(name=f"Crew {place}")[0] for place in range(10)]
    counties = [
        County.objects.get_or_create(code=f"990{place:02d}", defaults={"name": f"County {place}"})[
            0
        ]
        for place in range(40)
    ]
    rng = np.random.default_rng(first)
    for start in range(first, last, BATCH):
        numbers = range(start, min(start + BATCH, last))
        houses = House.objects.bulk_create(
            House(
                address=f"{n} Larkspur Lane", city="Tarn Hollow", state="QM", postal_code="00155",
                county=counties[n % 40], dwelling=House.Dwelling.values[n % 5],
                heating_fuel=[*Fuel.values, ""][n % 7], year_built=1900 + n % 120,
            )
            for n in numbers
        )  # fmt: skip
        jobs = Job.objects.bulk_create(
            Job(
                number=f"B-{n:06d}", house=house, client=client, crew=crews[n % 10],
                program=program, status="approved", opened_on=date(2026, 1, 5),
                inspection_passed_on=date(2026, 4, 1) + timedelta(days=n % 91), approved_at=NOW,
            )
            for n, house in zip(numbers, houses, strict=True)
        )  # fmt: skip
        flows = rng.uniform(0.5, 2.5, len(jobs))
        shares = rng.normal(0.3, 0.15, len(jobs))
        sides = {}
        for phase, flow in (("before", flows), ("after", flows * (1 - shares))):
            runs = TestRun.objects.bulk_create(
                TestRun(
                    job=job, device=device, uploaded_by=user, kind="envelope", phase=phase,
                    client_key=uuid.uuid4(), method="e779", operator="Casimir Oyelaran",
                    taken_at=NOW, document="{}", document_hash=f"{phase}{job.number}", answer={},
                    readings_hash=f"{phase}{job.number}", review="accepted",
                )
                for job in jobs
            )  # fmt: skip
            sides[phase] = Result.objects.bulk_create(
                Result(
                    test_run=run, method="ASTM E779", edition="19", maths_version="bench",
                    input_hash=run.document_hash, verdict="valid", flow_50=float(value), checks=[],
                    figures={
                        "uncertainty": SPLIT,
                        "instruments": {
                            "gauge": f"G-{place % 20}", "fans": [f"F-{place % 15}"],
                            "configurations": ["open"],
                        },
                    },
                )
                for place, (run, value) in enumerate(zip(runs, flow, strict=True))
            )  # fmt: skip
        Comparison.objects.bulk_create(
            Comparison(
                job=job, before=before, after=after, maths_version="bench", verdict="detectable",
                input_hash=job.number, before_flow_50=before.flow_50, after_flow_50=after.flow_50,
                reduction=1 - after.flow_50 / before.flow_50, reduction_uncertainty=0.02,
                figures={"share": {"low": 0.2, "high": 0.4}},
            )
            for job, before, after in zip(jobs, sides["before"], sides["after"], strict=True)
        )  # fmt: skip


def aggregate() -> Answer:
    """Units, mean and pooled reduction in one statement: as little as a report could be."""
    from django.db.models import Avg, Count, Sum

    from agency.diagnostics.models import Comparison

    found = (
        Comparison.objects.current()
        .filter(
            job__status="approved",
            job__inspection_passed_on__range=(date(2026, 4, 1), date(2026, 6, 30)),
        )
        .aggregate(
            n=Count("job__house", distinct=True),
            mean=Avg("reduction"),
            before=Sum("before_flow_50"),
            after=Sum("after_flow_50"),
        )
    )
    return found["n"], found["mean"], 1 - found["after"] / found["before"]


def report() -> Answer:
    """The same three from the whole report."""
    from agency.reports.periods import Period
    from agency.reports.quarter import quarter_report

    made = quarter_report(Period.parse("2026-Q2"), now=NOW)
    assert made.mean_reduction.value is not None
    assert made.pooled_reduction.value is not None
    return made.units.n, made.mean_reduction.value, made.pooled_reduction.value


def best_of(work: Callable[[], Answer]) -> tuple[float, float, Answer]:
    """Fastest of some rounds in seconds by the clock, then of this process alone; the answer."""
    clock, own, answer = [], [], (0, 0.0, 0.0)
    for _ in range(ROUNDS):
        start, busy = time.perf_counter(), time.process_time()
        answer = work()
        clock.append(time.perf_counter() - start)
        own.append(time.process_time() - busy)
    return min(clock), min(own), answer


def run() -> None:
    """Fill the database of this process and print both times at each size."""
    import django
    from django.db import connection

    django.setup()
    connection.creation.create_test_db(verbosity=0)
    ours: list[float] = []
    try:
        for before, size in zip((0, *SIZES), SIZES, strict=False):
            fill(before, size)
            with connection.cursor() as cursor:
                cursor.execute("ANALYZE")
            plain, _, expected = best_of(aggregate)
            whole, busy, found = best_of(report)
            np.testing.assert_allclose(found, expected, rtol=1e-9)
            ours.append(whole)
            print(
                f"{connection.vendor}, {size:,} jobs: aggregate {plain:.2f} s, "
                f"report {whole:.2f} s (this process busy {busy:.2f} s), ratio {whole / plain:.1f}",
                flush=True,
            )
        print(f"{connection.vendor}: ten times the jobs take {ours[1] / ours[0]:.1f} times as long")
    finally:
        connection.creation.destroy_test_db("", verbosity=0)


def main() -> None:
    """One process for each database, so that each has its own settings."""
    with tempfile.TemporaryDirectory() as folder:
        urls = [f"sqlite:///{folder}/bench.sqlite3"]
        urls += [POSTGRES] if postgres_lets_us_in() else []
        for url in urls:
            here = {"DATABASE_URL": url, "BENCH_HERE": "1", "DATA_DIR": folder}
            command = [sys.executable, "-m", "tests.benchmarks.bench_report"]
            subprocess.run(command, env={**os.environ, **here}, check=True)


if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "agency.config.settings")
    run() if os.environ.get("BENCH_HERE") else main()
