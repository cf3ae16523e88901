"""Measures and their estimates over REST: read by those who may see the job."""

import pytest

from agency.estimates.models import MeasuresEstimate
from tests.estimates.measured import CEILING, make_measure

pytestmark = pytest.mark.django_db


def test_a_crew_reads_its_own_jobs_measures(phone, cast, make_job):
    own = make_measure(make_job(), "insulation", CEILING)
    make_measure(make_job(crew=cast.other_crew), "insulation", CEILING)
    told = phone.get("/api/v1/measures/").json()["results"]
    assert [one["id"] for one in told] == [str(own.pk)]
    assert told[0]["properties"] == CEILING
    assert told[0]["material_cost"] == "600.00"


def test_an_estimate_is_told_with_all_it_rests_on(phone, cast, make_job):
    job = make_job()
    estimate = MeasuresEstimate.objects.create(
        job=job,
        method="m",
        edition="e",
        maths_version="v",
        input_hash="h",
        inputs={"a": 1},
        figures={"b": 2},
    )
    other = make_job(crew=cast.other_crew)
    MeasuresEstimate.objects.create(job=other, method="m", input_hash="h", inputs={}, figures={})
    told = phone.get("/api/v1/measures-estimates/").json()["results"]
    assert [(one["id"], one["inputs"], one["figures"]) for one in told] == [
        (str(estimate.pk), {"a": 1}, {"b": 2})
    ]
    assert phone.post("/api/v1/measures-estimates/", {}).status_code == 405
