"""What a budget buys, with savings that eat into each other."""

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from agency.savings.cost_effectiveness import Kind, Measure
from agency.savings.errors import EconomicsError
from agency.savings.package import build_package

COSTS = {"sealing": 400.0, "attic": 1000.0, "walls": 2000.0, "furnace": 3000.0}
SHARES = {"sealing": 0.10, "attic": 0.20, "walls": 0.20, "furnace": 0.25}
ORDER = list(COSTS)


def measure(code, cost, repairs=0.0, kind=Kind.ENERGY):
    return Measure(
        code=code, material=cost, installation=0.0, supervision=0.0, repairs=repairs, kind=kind
    )


MEASURES = [measure(code, cost) for code, cost in COSTS.items()]


def shares_of(bill, shares):
    """Each measure takes its share of what those before it left of the lifetime bill."""

    def savings_of(codes):
        left, saved = bill, {}
        for code in codes:
            saved[code] = left * shares[code]
            left -= saved[code]
        return saved

    return savings_of


def build(bill, budget, *, measures=MEASURES, shares=SHARES, order=ORDER, required=1.0):
    return build_package(
        measures,
        install_order=order,
        savings_of=shares_of(bill, shares),
        budget=budget,
        required=required,
    )


def why(package, code):
    return next(left.why for left in package.left_out if left.code == code)


def test_savings_are_counted_in_order_of_installation():
    """By hand, bill 25,000: 10 %, then 20 % of 22,500, 20 % of 18,000, 25 % of 14,400."""
    found = build(25_000, 10_000)
    assert found.chosen == ("sealing", "attic", "walls", "furnace")
    values = {code: verdict.present_value for code, verdict in found.verdict.measures.items()}
    assert values == pytest.approx({"sealing": 2500, "attic": 4500, "walls": 3600, "furnace": 3600})
    assert found.verdict.package.sir == pytest.approx(14_200 / 6_400)
    assert found.left_of_budget == 3600
    assert found.left_out == ()


def test_ranking_is_by_the_ratio_alone():
    """By hand, bill 20,000: 5, 4, 2 and 1.67; with the walls at 500 they come first with 8."""
    assert build(20_000, 10_000).ranking == ("sealing", "attic", "walls", "furnace")
    cheap_walls = [measure(code, 500.0 if code == "walls" else c) for code, c in COSTS.items()]
    assert build(20_000, 10_000, measures=cheap_walls).ranking[0] == "walls"


def test_what_pays_alone_may_not_pay_beside_the_others():
    """By hand, bill 20,000: the furnace saves 5000 alone, but 25 % of 11,520 after the rest."""
    found = build(20_000, 10_000)
    assert found.chosen == ("sealing", "attic", "walls")
    assert why(found, "furnace") == (
        "It returns $0.960 per dollar beside the others; $1 is asked for."
    )
    assert found.verdict.passes


def test_what_does_not_pay_alone_is_out_with_its_ratio():
    """By hand, bill 11,999: 25 % is 2999.75 of 3000, shown as 0.999 and not as 1."""
    found = build(11_999, 10_000)
    assert why(found, "furnace") == "It returns $0.999 per dollar by itself; $1 is asked for."


def test_a_budget_buys_down_the_ranking_and_what_still_fits():
    """By hand: 400 + 1000 leaves 2500, the walls' 2000 leaves 500; no furnace for 3000."""
    found = build(25_000, 3_900)
    assert found.chosen == ("sealing", "attic", "walls")
    assert found.left_of_budget == 500
    assert why(found, "furnace") == (
        "It costs $3,000.00 with its repairs; $500.00 of the budget is left when its turn comes."
    )


def test_a_cheaper_measure_fits_where_a_dearer_does_not():
    """By hand: the walls' 2000 do not fit in 1500, the attic's 1000 after them does."""
    found = build(25_000, 1_500, shares=SHARES | {"walls": 0.5})
    assert found.ranking[:2] == ("sealing", "walls")
    assert found.chosen == ("sealing", "attic")
    assert "$1,100.00 of the budget is left" in why(found, "walls")


def test_repairs_the_package_cannot_carry_cost_their_measure_its_place():
    """By hand: sealing 1000 of 400 + 900, attic 1800 of 1000 + 1000; 2800 against 3300. Without
    the sealing, which returns 0.77 on its whole cost, the attic's 2000 equal its 2000."""
    repaired = [measure("sealing", 400.0, 900.0), measure("attic", 1000.0, 1000.0)]
    found = build(10_000, 10_000, measures=repaired, order=["sealing", "attic"])
    assert found.chosen == ("attic",)
    assert "repairs of $900.00" in why(found, "sealing")
    assert found.verdict.package.sir == 1


def test_what_costs_nothing_and_saves_comes_first_and_what_costs_nothing_and_loses_never():
    free = [measure("good", 0.0), measure("bad", 0.0), measure("sealing", 400.0)]
    shares = {"good": 0.01, "bad": -0.01, "sealing": 0.1}
    found = build(20_000, 400, measures=free, shares=shares, order=["good", "bad", "sealing"])
    assert found.ranking == ("good", "sealing", "bad")
    assert found.chosen == ("good", "sealing")
    assert why(found, "bad") == "It costs nothing, but energy would cost $200.00 more with it."


def test_health_and_safety_is_listed_but_neither_ranked_nor_paid_from_the_budget():
    """10 CFR 440.21(c) excepts it, read."""
    alarm = measure("alarm", 60.0, kind=Kind.HEALTH_AND_SAFETY)
    found = build(25_000, 400, measures=[*MEASURES, alarm])
    assert found.chosen == ("sealing",)
    assert "alarm" not in found.ranking
    assert "excepted" in why(found, "alarm")


def test_ties_go_to_what_is_installed_first():
    twins = [measure("b", 100.0), measure("a", 100.0)]
    shares = {"a": 0.1, "b": 0.1}
    for order in (["a", "b"], ["b", "a"]):
        found = build(10_000, 100, measures=twins, shares=shares, order=order)
        assert found.chosen == (order[0],)


def test_no_budget_buys_nothing():
    found = build(25_000, 0)
    assert found.chosen == ()
    assert found.verdict.package.sir is None
    assert len(found.left_out) == 4


def cents(most):
    return st.integers(min_value=0, max_value=100 * most).map(lambda whole: whole / 100)


houses = st.fixed_dictionaries(
    {
        code: st.tuples(
            cents(5000),
            cents(1000),
            st.floats(min_value=-0.05, max_value=0.5),
        )
        for code in ORDER
    }
)


@given(house=houses, bill=st.floats(min_value=100, max_value=50_000), budget=st.floats(0, 9000))
@settings(deadline=None)
def test_every_package_passes_fits_accounts_for_all_and_comes_out_the_same_again(
    house, bill, budget
):
    measures = [measure(code, cost, repairs) for code, (cost, repairs, _) in house.items()]
    shares = {code: share for code, (_, _, share) in house.items()}
    found = build(bill, budget, measures=measures, shares=shares)
    assert found.verdict.passes or not found.chosen
    assert found.verdict.package.cost <= budget * (1 + 1e-12)
    assert sorted([*found.chosen, *(left.code for left in found.left_out)]) == sorted(ORDER)
    assert all(left.why.endswith(".") for left in found.left_out)
    for shuffled in itertools.islice(itertools.permutations(measures), 3):
        assert build(bill, budget, measures=list(shuffled), shares=shares) == found


@pytest.mark.parametrize(
    ("order", "named"),
    [(ORDER[:-1], "furnace"), ([*ORDER, "roof"], "roof"), ([*ORDER, "attic"], "attic")],
)
def test_an_install_order_that_is_not_the_list_of_measures_is_refused(order, named):
    with pytest.raises(EconomicsError, match=f"install order.*{named}"):
        build(20_000, 1000, order=order)


def test_a_negative_budget_is_refused():
    with pytest.raises(EconomicsError, match="budget is -1"):
        build(20_000, -1)
