"""Papers of a job: what the household is told, the reissue with a reason, the public check."""

from datetime import date
from typing import Any

import pytest
from django.urls import reverse

from agency.certificates.issuing import issue_certificate
from agency.certificates.models import Certificate, Handover
from agency.jobs.models import Job
from tests.certificates.conftest import agency, media, ready_job  # noqa: F401  fixtures

TOLD = {
    "handover-work": "Attic: sealed around pipes\n\nKitchen: new fan",
    "handover-ventilation": "The bathroom fan runs all day. Leave it on.",
    "handover-alarms": "Smoke alarm, hall: replace in 2036",
    "handover-lead_safe": "used",
    "handover-inspector_certificate": "FI-0155",
}


@pytest.fixture
def issued(ready_job: Job) -> Certificate:  # noqa: F811
    return issue_certificate(ready_job.pk)


def test_what_the_household_is_told_reaches_the_next_certificate(
    sign_in: Any,
    cast: Any,
    ready_job: Job,  # noqa: F811
) -> None:
    browser = sign_in(cast.office)
    answer = browser.post(reverse("office:write_handover", args=[ready_job.pk]), TOLD)
    assert answer.status_code == 302
    told = issue_certificate(ready_job.pk).figures["handover"]
    assert told["work"] == ["Attic: sealed around pipes", "Kitchen: new fan"]
    assert told["alarms"] == ["Smoke alarm, hall: replace in 2036"]
    assert (told["lead_safe"], told["inspector_certificate"]) == ("used", "FI-0155")


def test_what_the_household_is_told_has_a_history(
    sign_in: Any,
    cast: Any,
    ready_job: Job,  # noqa: F811
) -> None:
    browser = sign_in(cast.office)
    for lead_safe in ("used", "not_needed"):
        told = {**TOLD, "handover-lead_safe": lead_safe}
        browser.post(reverse("office:write_handover", args=[ready_job.pk]), told)
    page = browser.get(reverse("office:job", args=[ready_job.pk])).content.decode()
    assert "What the household is told recorded" in page
    assert "What the household is told: lead safe" in page
    assert "<del>Used</del>" in page


def test_line_without_a_room_is_refused_by_number_and_typed_text_stays(
    sign_in: Any,
    cast: Any,
    ready_job: Job,  # noqa: F811
) -> None:
    typed = {**TOLD, "handover-work": "Attic: sealed\nsome more"}
    answer = sign_in(cast.office).post(reverse("office:write_handover", args=[ready_job.pk]), typed)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Line 2, &quot;some more&quot;, has no colon" in page
    assert "Attic: sealed\nsome more" in page
    assert not Handover.objects.exists()


def test_form_says_in_which_language_to_write(
    sign_in: Any,
    cast: Any,
    ready_job: Job,  # noqa: F811
) -> None:
    client = ready_job.client
    client.language = "es"
    client.save()
    page = sign_in(cast.office).get(reverse("office:job", args=[ready_job.pk])).content.decode()
    assert "In Spanish, as the household will read it." in page


def test_certificate_follows_the_language_of_the_household(
    ready_job: Job,  # noqa: F811
) -> None:
    client = ready_job.client
    client.language = "es"
    client.save()
    assert issue_certificate(ready_job.pk).figures["language"] == "es"


def test_promises_reach_as_far_as_the_rule_book_says(issued: Certificate) -> None:
    """One year: common practice, no source. Fifteen years: 42 USC 6865(c)(2), from memory."""
    passed = date.fromisoformat(issued.figures["finished_on"])
    assert issued.figures["dates"] == {
        "workmanship_until": passed.replace(year=passed.year + 1).isoformat(),
        "weatherized_again_from": passed.replace(year=passed.year + 15).isoformat(),
    }


def test_manager_issues_again_with_a_reason(sign_in: Any, cast: Any, issued: Certificate) -> None:
    address = reverse("office:reissue_certificate", args=[issued.job_id])
    answer = sign_in(cast.manager).post(address, {"reissue-reason": "House number corrected."})
    assert answer.status_code == 302
    newer = Certificate.objects.get(replaces=issued)
    assert newer.reason == "House number corrected."
    page = sign_in(cast.manager).get(reverse("office:job", args=[issued.job_id])).content.decode()
    assert issued.number in page
    assert newer.number in page
    assert "Reissued: House number corrected." in page


def test_without_a_reason_nothing_is_issued(sign_in: Any, cast: Any, issued: Certificate) -> None:
    address = reverse("office:reissue_certificate", args=[issued.job_id])
    answer = sign_in(cast.manager).post(address, {"reissue-reason": "  "})
    assert answer.status_code == 422
    assert "Write why the certificate is issued again." in answer.content.decode()
    assert Certificate.objects.count() == 1


def test_only_a_manager_sees_the_reissue_and_only_with_a_certificate(
    sign_in: Any,
    cast: Any,
    ready_job: Job,  # noqa: F811
) -> None:
    address = reverse("office:job", args=[ready_job.pk])
    verb = reverse("office:reissue_certificate", args=[ready_job.pk])
    assert verb not in sign_in(cast.manager).get(address).content.decode()
    issue_certificate(ready_job.pk)
    assert verb in sign_in(cast.manager).get(address).content.decode()
    assert verb not in sign_in(cast.office).get(address).content.decode()


def test_anyone_learns_whether_a_certificate_is_valid_and_no_more(
    client: Any, issued: Certificate
) -> None:
    answer = client.get(f"/verify/{issued.check_code}")
    page = answer.content.decode()
    assert answer.status_code == 200
    assert f"Certificate {issued.number}" in page
    assert "This certificate is valid." in page
    house, household = issued.job.house, issued.job.client
    for private in (house.address, house.city, household.name, household.phone, "cfm", "$"):
        assert private not in page
    assert not answer.cookies
    assert answer["Cache-Control"] == "public, max-age=60"


def test_replaced_certificate_says_so(client: Any, cast: Any, issued: Certificate) -> None:
    from agency.workflows import reissue_certificate

    newer = reissue_certificate(issued.job_id, cast.manager, "Paper lost.")
    old = client.get(f"/verify/{issued.check_code}").content.decode()
    assert "was replaced by a newer one" in old
    assert "Paper lost." not in old
    new = client.get(f"/verify/{newer.check_code}").content.decode()
    assert "This certificate is valid." in new


@pytest.mark.parametrize("spelling", [str.lower, lambda code: code.replace("-", "")])
def test_code_is_found_however_it_is_typed(client: Any, issued: Certificate, spelling: Any) -> None:
    assert client.get(f"/verify/{spelling(issued.check_code)}").status_code == 200


@pytest.mark.parametrize("code", ["2222-2222", "x", "7" * 300, "QC-2026-0003-C1", "_"])
def test_unknown_code_is_told_as_unknown(client: Any, issued: Certificate, code: str) -> None:
    answer = client.get(f"/verify/{code}")
    assert answer.status_code == 404
    assert "No certificate has this check code." in answer.content.decode()


def test_address_on_the_paper_is_the_page_that_checks_it(
    client: Any, issued: Certificate, settings: Any
) -> None:
    path = issued.figures["verify_at"].removeprefix(settings.PUBLIC_ADDRESS)
    assert client.get(path).status_code == 200


def test_check_takes_one_query(
    client: Any, issued: Certificate, django_assert_num_queries: Any
) -> None:
    with django_assert_num_queries(1):
        client.get(f"/verify/{issued.check_code}")
