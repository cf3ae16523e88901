"""Every step is POST only, and each role is let in, told why not, or told there is no such page."""

import uuid

import pytest
from django.urls import reverse

pytestmark = pytest.mark.django_db

REVIEWERS = {"office", "manager", "admin"}
VERBS = {
    "finish_work": REVIEWERS,
    "start_work": REVIEWERS,
    "explain_no_before_test": REVIEWERS,
    "withdraw_job": REVIEWERS,
    "approve_job": {"manager", "admin"},
    "record_inspection": {"inspector"},
    "accept_test_run": REVIEWERS,
    "return_test_run": REVIEWERS,
    "confirm_question": REVIEWERS,
    "undo_review": REVIEWERS,
    "revoke_device": REVIEWERS,
    "acknowledge_stop": {"office", "inspector", "manager", "admin"},
    "clear_stop": {"inspector", "manager", "admin"},
}
ADDRESSES = {name: f"office:{name}" for name in VERBS}


def address(name):
    return reverse(ADDRESSES[name], args=[uuid.uuid4()])


@pytest.mark.parametrize("name", VERBS)
def test_verb_rejects_get(sign_in, cast, name):
    assert sign_in(cast.manager).get(address(name)).status_code == 405


@pytest.mark.parametrize("name", VERBS)
def test_verb_sends_the_anonymous_to_sign_in(client, db, name):
    assert client.post(address(name)).url.startswith(reverse("office:sign_in"))


@pytest.mark.parametrize("name", VERBS)
def test_verb_does_not_exist_for_a_crew(sign_in, cast, name):
    assert sign_in(cast.crew_lead).post(address(name)).status_code == 404


@pytest.mark.parametrize("role", ["office", "inspector", "manager", "admin"])
@pytest.mark.parametrize("name", VERBS)
def test_verb_is_for_its_roles(sign_in, cast, name, role):
    """On a record that does not exist, those allowed get 404 and colleagues 403."""
    expected = 404 if role in VERBS[name] else 403
    assert sign_in(getattr(cast, role)).post(address(name)).status_code == expected


def test_pairing_is_for_its_roles(sign_in, cast):
    address = reverse("office:pair_device")
    assert sign_in(cast.inspector).post(address).status_code == 403
    assert sign_in(cast.crew_lead).post(address).status_code == 404
    assert sign_in(cast.office).get(address).status_code == 405


def test_a_step_without_its_token_is_refused(cast, make_job):
    from django.test import Client

    browser = Client(enforce_csrf_checks=True)
    browser.force_login(cast.manager, backend="django.contrib.auth.backends.ModelBackend")
    job = make_job(status="inspection_passed")
    assert browser.post(reverse("office:approve_job", args=[job.pk])).status_code == 403
    job.refresh_from_db()
    assert job.status == "inspection_passed"
