"""The records pages of instruments: pressures are typed with both units in sight."""

import re

import pytest
from django.urls import reverse

from agency.instruments.models import Instrument

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("name", ["accuracy_pa", "resolution_pa"])
def test_a_pressure_is_marked_for_its_twin(sign_in, cast, name):
    """1 in. w.c. = 249.08891 Pa: NIST SP 811 Appendix B.8, from memory."""
    cast.admin.is_superuser = True
    cast.admin.save()
    Instrument.objects.create(kind="gauge", serial="QG-014")
    page = sign_in(cast.admin).get(reverse("admin:instruments_calibration_add")).content.decode()
    assert "js/pressure.js" in page
    assert re.search(rf'name="{name}"[^>]*data-pressure="249\.08891"', page)
