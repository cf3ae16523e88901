"""Measures, their estimate, what if and the house's description, as the desk sees them."""

import re
from decimal import Decimal

import pytest
from django.urls import reverse

from agency import workflows
from agency.estimates.estimating_measures import estimate_measures
from agency.estimates.models import EnergyDescription, Measure, PackageRun
from tests.estimates.measured import (
    CEILING,
    county_with_weather_and_prices,
    make_measure,
    make_tested_job,
    usual_measures,
)

pytestmark = pytest.mark.django_db

MONEY = {"name": "Attic", "place": 20, "quantity": 1200, "material_cost": 900,
         "labour_cost": "700.50", "supervision_cost": 0}  # fmt: skip


@pytest.fixture
def job(cast, device):
    county_with_weather_and_prices()
    return make_tested_job(crew=cast.crew, device=device)


def url(name, job, *more):
    return reverse(f"office:{name}", args=[job.pk, *more])


def text_of(answer):
    return answer.content.decode()


def test_an_empty_list_says_what_to_do(sign_in, cast, job):
    page = text_of(sign_in(cast.office).get(url("measures", job)))
    assert "No measure is planned" in page
    assert "Add a measure" in page


@pytest.mark.parametrize(
    "kind",
    ["air_sealing", "insulation", "openings", "duct_sealing", "heating", "cooling", "thermostat",
     "water_heater", "low_flow", "tank_wrap", "lighting", "appliance", "no_saving"],
)  # fmt: skip
def test_each_kind_has_its_form(sign_in, cast, job, kind):
    page = text_of(sign_in(cast.office).get(url("add_measure", job, kind)))
    assert len(re.findall(r"<h1[ >]", page)) == 1
    assert "Keep the measure" in page


def test_a_kept_measure_stands_on_the_list_with_its_cost(sign_in, cast, job):
    browser = sign_in(cast.office)
    answer = browser.post(url("add_measure", job, "insulation"), MONEY | CEILING)
    assert answer.status_code == 302
    measure = Measure.objects.get()
    assert measure.properties == CEILING
    assert measure.cost == Decimal("1600.50")
    page = text_of(browser.get(url("measures", job)))
    assert "$1,600.50" in page
    assert "R after: 44" in page
    assert "being worked out anew" in page


def test_a_wrong_figure_comes_back_at_its_field(sign_in, cast, job):
    answer = sign_in(cast.office).post(
        url("add_measure", job, "insulation"), MONEY | CEILING | {"r_after": "0"}
    )
    assert answer.status_code == 422
    assert answer.context["form"].errors["r_after"] == [
        "0 is not above zero. It may be &gt; 0. Enter the measured value, or null where it is "
        "not known.".replace("&gt;", ">")
    ]
    assert not Measure.objects.exists()


def test_text_for_a_number_is_refused_in_words(sign_in, cast, job):
    answer = sign_in(cast.office).post(
        url("add_measure", job, "insulation"), MONEY | CEILING | {"area_sqft": "big"}
    )
    assert "enter a plain number such as 12.5" in text_of(answer)


def test_two_fields_against_each_other_are_told_at_the_head(sign_in, cast, job):
    answer = sign_in(cast.office).post(
        url("add_measure", job, "insulation"), MONEY | CEILING | {"framing_share": "0.2"}
    )
    assert answer.status_code == 422
    assert "needed together" in answer.context["form"].non_field_errors()[0]


def test_a_repair_names_the_measure_it_is_for(sign_in, cast, job):
    ceiling = make_measure(job, "insulation", CEILING)
    browser, form = sign_in(cast.office), MONEY | {"category": "incidental_repair"}
    answer = browser.post(url("add_measure", job, "no_saving"), form)
    assert answer.status_code == 422
    assert "names the measure it makes possible" in text_of(answer)
    answer = browser.post(url("add_measure", job, "no_saving"), form | {"repairs_for": ceiling.pk})
    assert answer.status_code == 302
    assert ceiling.repairs.get().name == "Attic"


def test_a_second_air_sealing_is_refused_in_words(sign_in, cast, job):
    make_measure(job, "air_sealing", {})
    answer = sign_in(cast.office).post(url("add_measure", job, "air_sealing"), MONEY)
    assert answer.status_code == 422
    assert "already has air sealing" in text_of(answer)


def test_edit_and_remove(sign_in, cast, job):
    measure = make_measure(job, "insulation", CEILING)
    browser = sign_in(cast.office)
    address = reverse("office:edit_measure", args=[measure.pk])
    assert 'value="44' in text_of(browser.get(address))
    browser.post(address, MONEY | CEILING | {"r_after": 49, "installed_on": "2026-05-04"})
    measure.refresh_from_db()
    assert (measure.properties["r_after"], str(measure.installed_on)) == (49, "2026-05-04")
    browser.post(reverse("office:remove_measure", args=[measure.pk]))
    assert not Measure.objects.exists()


def test_the_estimate_shows_steps_ratios_and_assumptions(sign_in, cast, job):
    usual_measures(job)
    estimate_measures(job.pk)
    browser = sign_in(cast.manager)
    answer = browser.get(url("measures_estimate", job))
    page = text_of(answer)
    assert len(answer.context["steps"]) == 3
    for words in ("In plain words", "All measures together", "to investment", "What was assumed",
                  "from memory", "What moves the result most", "N-factor", "Input hash",
                  "Fan tests before and after the work"):  # fmt: skip
        assert words in page, words
    assert "Sherman" in text_of(browser.get(url("job", job)))


def test_an_estimate_that_lacks_something_says_what(sign_in, cast, job):
    usual_measures(job)
    type(job.house).objects.update(storeys=None)
    estimate_measures(job.pk)
    page = text_of(sign_in(cast.office).get(url("measures_estimate", job)))
    assert "Nothing could be estimated" in page
    assert "Enter the storeys above grade on the house record." in page


def test_without_prices_energy_is_shown_and_money_refused(sign_in, cast, job):
    from agency.programs.models import FuelPrice

    FuelPrice.objects.all().delete()
    usual_measures(job)
    estimate_measures(job.pk)
    page = text_of(sign_in(cast.office).get(url("measures_estimate", job)))
    assert "million Btu" in page
    assert "Left out of the estimate" in page
    assert "No price of" in page


def test_a_budget_is_asked_for_and_shown(sign_in, cast, job, work_off):
    usual_measures(job)
    estimate_measures(job.pk)
    browser = sign_in(cast.manager)
    browser.post(url("ask_package", job), {"budget": "2500"})
    assert "Being chosen" in text_of(browser.get(url("measures_estimate", job)))
    work_off()
    page = text_of(browser.get(url("measures_estimate", job)))
    assert "Buys: " in page
    assert PackageRun.objects.get().figures["package"]["cost"] <= 2500


@pytest.mark.parametrize("budget", ["", "much", "-5"])
def test_a_wrong_budget_is_refused_in_words(sign_in, cast, job, budget):
    answer = sign_in(cast.manager).post(url("ask_package", job), {"budget": budget}, follow=True)
    assert "dollars" in str(next(iter(answer.context["messages"])))


def test_sliders_stand_at_the_estimate_and_move_it(sign_in, cast, job):
    usual_measures(job)
    estimate = estimate_measures(job.pk)
    browser = sign_in(cast.inspector)
    base = dict(browser.get(url("what_if", job)).context["rows"])
    central = estimate.figures["total"]["dollars"]["shown"]["central"]
    assert base["First-year saving"] == f"${central:,.0f} a year"
    ids = [one["id"] for one in estimate.inputs["measures"]]
    turned = {"setpoint": 68, "efficiency": 80, "leakage": 100, "price": 200, "rate": 3,
              "measures": ids}  # fmt: skip
    dear = dict(browser.get(url("what_if", job), turned).context["rows"])
    assert dear["Cost with incidental repairs"] == base["Cost with incidental repairs"]
    assert float(dear["Savings-to-investment ratio"]) == pytest.approx(
        2 * float(base["Savings-to-investment ratio"]), abs=0.02
    )
    fewer = browser.get(url("what_if", job), turned | {"measures": ids[:1]})
    assert len(fewer.context["steps"]) == 1


def test_a_slider_off_its_scale_is_refused(sign_in, cast, job):
    usual_measures(job)
    estimate_measures(job.pk)
    answer = sign_in(cast.office).get(
        url("what_if", job), {"setpoint": 500, "efficiency": "x", "leakage": 1, "price": 100}
    )
    assert answer.status_code == 422
    page = text_of(answer)
    assert "must be at most 80" in page
    assert "cannot be read; move the slider" in page


def test_what_if_without_an_estimate_says_so(sign_in, cast, job):
    assert "There is no estimate to turn" in text_of(sign_in(cast.office).get(url("what_if", job)))


def test_the_description_is_kept_and_read_again(sign_in, cast, job):
    browser = sign_in(cast.office)
    usual_measures(job)
    answer = browser.post(
        url("energy_description", job),
        {"infiltration_model": "enhanced", "flue": "flue", "foundation": "crawl space",
         "wall_r": "9"},
    )  # fmt: skip
    assert answer.status_code == 302
    assert EnergyDescription.objects.get().wall_r == 9
    assert "being worked out anew" in text_of(browser.get(url("measures", job)))
    wrong = browser.post(url("energy_description", job), {"wall_r": "-1"})
    assert wrong.status_code == 422


@pytest.mark.parametrize("count", [2, 9])
def test_queries_do_not_grow_with_the_list(sign_in, cast, job, django_assert_num_queries, count):
    """Session, user, job with stops (2), measures, open promise, to-review count."""
    for number in range(count):
        make_measure(job, "lighting", {"lamps": 1, "watts_before": 43, "watts_after": 9,
                                       "hours_a_day": 2}, name=f"Lamps {number}")  # fmt: skip
    browser = sign_in(cast.office)
    with django_assert_num_queries(7):
        browser.get(url("measures", job))


def test_queries_of_the_estimate_do_not_grow_with_its_budgets(
    sign_in, cast, job, django_assert_max_num_queries
):
    usual_measures(job)
    estimate_measures(job.pk)
    for budget in range(1000, 6000, 1000):
        workflows.ask_package(job.pk, cast.manager, Decimal(budget))
    browser = sign_in(cast.office)
    with django_assert_max_num_queries(8):
        browser.get(url("measures_estimate", job))
