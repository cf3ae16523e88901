"""Heat content of the fuels a house may burn, each with its year and source."""

from collections.abc import Mapping
from dataclasses import dataclass

from agency.savings.errors import FuelError

BTU = 1055.05585262
"""International Table Btu. [J]  Exact."""
MMBTU = 1e6 * BTU
"""Million Btu. [J]"""

EIA_UNITS = (
    "US Energy Information Administration, Units and calculators explained: British thermal "
    "units, sample conversion factors"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatContent:
    """Heat one unit of a fuel holds, gross (higher) heating value."""

    fuel: str
    unit: str
    btu: float
    year: int | None
    """Year the average is for; None where the figure is a definition."""
    source: str
    provenance: str

    @property
    def joules(self) -> float:
        """Heat content. [J per unit]"""
        return self.btu * BTU


HEAT_CONTENTS: Mapping[tuple[str, str], HeatContent] = {
    (content.fuel, content.unit): content
    for content in (
        HeatContent(
            fuel="electricity",
            unit="kWh",
            btu=3_600_000.0 / BTU,
            year=None,
            source="Definition, 3.6 MJ; printed as 3,412 Btu in " + EIA_UNITS,
            provenance="derived",
        ),
        HeatContent(
            fuel="natural_gas",
            unit="therm",
            btu=100_000.0,
            year=None,
            source="Definition, in " + EIA_UNITS,
            provenance="read",
        ),
        HeatContent(
            fuel="propane",
            unit="gal",
            btu=91_452.0,
            year=2019,
            source=EIA_UNITS,
            provenance="read",
        ),
        HeatContent(
            fuel="fuel_oil",
            unit="gal",
            btu=138_500.0,
            year=2019,
            source=EIA_UNITS + ", heating oil",
            provenance="read",
        ),
        HeatContent(
            fuel="kerosene",
            unit="gal",
            btu=5_670_000.0 / 42.0,
            year=None,
            source=(
                "US Energy Information Administration, Monthly Energy Review, table A1: "
                "5.670 million Btu a barrel of 42 gallons"
            ),
            provenance="from memory",
        ),
        HeatContent(
            fuel="wood",
            unit="cord",
            btu=20_000_000.0,
            year=2019,
            source=EIA_UNITS + "; varies much with species and moisture",
            provenance="read",
        ),
    )
}


def heat_content(*, fuel: str, unit: str) -> HeatContent:
    """The heat content of a fuel sold by a unit.

    Raises
    ------
    FuelError
        When the table holds no such pair.
    """
    try:
        return HEAT_CONTENTS[fuel, unit]
    except KeyError:
        known = ", ".join(f"{fuel} by the {unit}" for fuel, unit in HEAT_CONTENTS)
        raise FuelError(
            f"no heat content is known for {fuel or 'an unnamed fuel'} by the "
            f"{unit or 'unnamed unit'}. Known: {known}. Enter the price in one of these units."
        ) from None


def unit_of(fuel: str) -> str:
    """The unit a fuel is sold by in the heat content table."""
    for known, unit in HEAT_CONTENTS:
        if known == fuel:
            return unit
    return heat_content(fuel=fuel, unit="").unit
