"""Photos and visit reports on the page of their job."""

import json
import uuid
from datetime import date
from io import BytesIO

import pytest
from django.urls import reverse
from PIL import Image

from agency.jobs.models import Visit
from tests.builders import make_photo

pytestmark = pytest.mark.django_db


def test_a_job_shows_its_photos_small_and_leads_to_the_large_ones(sign_in, cast, device, make_job):
    job = make_job()
    photo = make_photo(job, device, "Flue <b>pipe</b>")
    browser = sign_in(cast.office)
    page = browser.get(reverse("office:job", args=[job.pk])).content.decode()
    large, small = (reverse(f"office:{name}", args=[photo.pk]) for name in ("photo", "small_photo"))
    assert f'href="{large}"' in page
    assert f'src="{small}"' in page
    assert "Flue &lt;b&gt;pipe&lt;/b&gt;" in page
    sizes = [
        Image.open(BytesIO(b"".join(browser.get(address).streaming_content))).size
        for address in (large, small)
    ]
    assert sizes == [(640, 480), (320, 240)]


@pytest.mark.parametrize("name", ["photo", "small_photo"])
def test_a_photo_is_served_as_a_picture_and_nothing_else(sign_in, cast, device, make_job, name):
    photo = make_photo(make_job(), device)
    answer = sign_in(cast.office).get(reverse(f"office:{name}", args=[photo.pk]))
    assert answer.headers["Content-Type"] == "image/jpeg"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Content-Security-Policy"] == "default-src 'none'; sandbox"
    assert answer.headers["Content-Disposition"].startswith(f'inline; filename="{photo.pk}')


def test_a_photo_lost_from_the_store_is_not_found(sign_in, cast, device, make_job):
    photo = make_photo(make_job(), device)
    photo.file.storage.delete(photo.file.name)
    assert sign_in(cast.office).get(reverse("office:photo", args=[photo.pk])).status_code == 404


def test_the_number_of_queries_does_not_grow_with_the_photos_and_reports(
    sign_in, cast, make_job, phone, django_assert_max_num_queries
):
    job = make_job()
    for number in range(8):
        make_photo(job, phone.device, f"No. {number}")
        visit = Visit.objects.create(job=job, kind="work", planned_on=date(2026, 4, 14))
        _report(phone, visit)
    browser = sign_in(cast.office)
    with django_assert_max_num_queries(32):
        browser.get(reverse("office:job", args=[job.pk]))


def test_a_job_shows_what_a_crew_said_of_its_visit(sign_in, cast, make_job, phone):
    visit = Visit.objects.create(job=make_job(), kind="test_in", planned_on=date(2026, 4, 14))
    _report(
        phone,
        visit,
        not_safe={"code": "fire", "words": "The stove is still hot."},
        not_possible=[{"kind": "envelope", "code": "not_safe", "words": "Ash everywhere."}],
        note="Come back on Thursday.",
    )
    page = sign_in(cast.office).get(reverse("office:job", args=[visit.job_id])).content.decode()
    assert "Arrived 9:00 AM" in page or "9:00" in page
    assert "The stove is still hot." in page
    assert "Building tightness" in page
    assert "not made: it is not safe. Ash everywhere." in page
    assert "Come back on Thursday." in page
    assert "Not safe to test" in page


def _report(phone, visit, **changes):
    said = {
        "client_key": str(uuid.uuid4()),
        "visit": str(visit.pk),
        "arrived_at": "2026-04-14T09:00:00-05:00",
        "left_at": "2026-04-14T11:30:00-05:00",
    } | changes
    answer = phone.post("/api/v1/visit-reports/", json.dumps(said), content_type="application/json")
    assert answer.status_code == 201, answer.content
