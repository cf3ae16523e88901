"""Signing in leads each role to its own first page."""

import pytest
from django.urls import reverse

from tests.builders import PASSWORD

pytestmark = pytest.mark.django_db


def enter(client, username, password=PASSWORD):
    typed = {"username": username, "password": password}
    return client.post(reverse("office:sign_in"), typed, follow=True)


def test_office_lands_on_its_day(client, cast):
    answer = enter(client, "odette")
    assert answer.redirect_chain[-1][0] == reverse("office:today")
    assert answer.status_code == 200


def test_crew_lands_on_its_visits(client, cast):
    answer = enter(client, "casimir")
    assert answer.redirect_chain[-1][0] == reverse("field:today")
    assert answer.status_code == 200


def test_wrong_password_is_answered_in_words(client, cast):
    answer = enter(client, "odette", "a wrong passphrase altogether")
    assert answer.status_code == 200
    page = answer.content.decode()
    assert "There is a problem" in page
    assert "<title>Error: Sign in" in page
    assert 'value="odette"' in page


def test_a_leaver_cannot_sign_in(client, cast):
    cast.office.is_active = False
    cast.office.save()
    assert "There is a problem" in enter(client, "odette").content.decode()


def test_signing_out_ends_the_session(sign_in, cast):
    browser = sign_in(cast.office)
    assert browser.get(reverse("office:sign_out")).status_code == 405
    browser.post(reverse("office:sign_out"))
    assert browser.get(reverse("office:today")).status_code == 302


def test_page_asked_for_comes_after_sign_in(client, cast):
    wanted = reverse("office:instruments")
    address = f"{reverse('office:sign_in')}?next={wanted}"
    answer = client.post(address, {"username": "odette", "password": PASSWORD, "next": wanted})
    assert answer.url == wanted


def test_another_site_is_never_gone_to(client, cast):
    typed = {"username": "odette", "password": PASSWORD, "next": "https://elsewhere.example/"}
    assert "elsewhere" not in client.post(reverse("office:sign_in"), typed).url
