"""One flow for whichever infiltration model was chosen."""

import pytest

from agency.leakage.infiltration import basic_coefficients, basic_flow
from agency.leakage.infiltration_combining import Superposition
from agency.leakage.infiltration_enhanced import Flue, Foundation, enhanced_coefficients
from agency.savings.natural_flow import EnhancedLeaks, coefficient_of, natural_flow

HOUR = {"temperature_difference": 25.0, "wind_speed": 5.0}


def leaks(superposition, exponent=0.65):
    return EnhancedLeaks(
        coefficients=enhanced_coefficients(
            storeys=1.0,
            shelter_class=3,
            foundation=Foundation.BASEMENT_OR_SLAB,
            flue=Flue.NONE,
        ),
        exponent=exponent,
        superposition=superposition,
    )


def test_basic_coefficients_give_the_basic_model():
    model = basic_coefficients(storeys=1.0, shelter_class=3)
    assert natural_flow(leakage_area=0.05, leaks=model, **HOUR) == basic_flow(
        leakage_area=0.05, coefficients=model, **HOUR
    )


def test_a_coefficient_passes_the_flow_of_its_area_at_4_pa():
    """Q = A sqrt(2 dp / rho) at 4 Pa, 1.2041 kg/m³: by hand 0.05 x 2.57758 = 0.128879 m³/s."""
    coefficient = float(coefficient_of(0.05, exponent=0.65))
    assert coefficient * 4**0.65 == pytest.approx(0.128879, abs=1e-6)


def test_the_original_superposition_is_below_quadrature_near_balance():
    """With n = 0.65 the cross term takes a third of the geometric mean away, derived."""
    both = [
        float(natural_flow(leakage_area=0.05, leaks=leaks(one), **HOUR))
        for one in (Superposition.ORIGINAL, Superposition.QUADRATURE)
    ]
    assert 0.8 * both[1] < both[0] < 1.1 * both[1]


@pytest.mark.parametrize("superposition", list(Superposition))
def test_flow_grows_with_leaks_cold_and_wind(superposition):
    def flow(area=0.05, cold=20.0, wind=3.0):
        return float(
            natural_flow(
                leakage_area=area,
                leaks=leaks(superposition),
                temperature_difference=cold,
                wind_speed=wind,
            )
        )

    assert flow(area=0.1) == pytest.approx(2 * flow())
    assert flow(cold=30.0) > flow()
    assert flow(wind=6.0) > flow()
