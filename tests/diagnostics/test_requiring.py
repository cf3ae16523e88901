"""Required tests: only kinds and methods that exist, each once, chosen in the records pages."""

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.urls import reverse

from agency.diagnostics.models import RequiredTest
from tests.builders import make_program

pytestmark = pytest.mark.django_db


def required(**changes):
    values = {"program": make_program(), "visit_kind": "test_in", "kind": "envelope"}
    return RequiredTest(**values | changes)


@pytest.mark.parametrize("method", ["", "iso9972", "one_point"])
def test_a_method_of_the_kind_or_none_is_taken(method):
    required(method=method).full_clean()


def test_a_method_of_another_kind_is_refused_with_those_that_exist():
    with pytest.raises(ValidationError, match="iso9972") as refusal:
        required(method="zero_and_hoses").full_clean()
    assert set(refusal.value.message_dict) == {"method"}


@pytest.mark.parametrize("change", [{"kind": "magic"}, {"visit_kind": "party"}])
def test_an_unknown_kind_is_refused(change):
    with pytest.raises(ValidationError):
        required(**change).full_clean()


def test_a_test_is_required_once():
    required().save()
    with pytest.raises(IntegrityError), transaction.atomic():
        required().save()


def test_the_administrator_chooses_from_the_kinds_there_are(sign_in, cast):
    cast.admin.is_superuser = True
    cast.admin.save()
    page = sign_in(cast.admin).get(reverse("admin:diagnostics_requiredtest_add"))
    assert '<option value="gauge_check">Gauge and hose check</option>' in page.content.decode()
