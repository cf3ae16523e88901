"""Units a bill may state its energy in, and what one of each holds."""

from agency.savings.fuels import MMBTU, heat_content, unit_of

CUBIC_FOOT = 0.3048**3
"""[m³]  Exact."""
BTU_PER_CUBIC_FOOT = MMBTU / 1e6 / CUBIC_FOOT
"""[J/m³]"""
CCF = 100 * CUBIC_FOOT
"""A hundred cubic feet. [m³]"""
OTHER_UNITS = ("MMBtu", "kWh", "therm")
VOLUMES = ("ccf",)
"""Units that hold energy only together with the heat content printed on the bill."""


def units_for(fuel: str) -> list[str]:
    """Units a bill of the fuel may be in, the usual one first."""
    gas = [*VOLUMES] if fuel == "natural_gas" else []
    return list(dict.fromkeys([unit_of(fuel), *gas, *OTHER_UNITS]))


def joules_in(*, fuel: str, unit: str, btu_per_cubic_foot: float | None) -> float | None:
    """Energy of one unit; None for a volume without its heat content. [J]"""
    if unit in VOLUMES:
        heat = gas_heat_content(btu_per_cubic_foot)
        return None if heat is None else CCF * heat
    if unit == "MMBtu":
        return MMBTU
    if unit == "kWh":
        return heat_content(fuel="electricity", unit="kWh").joules
    if unit == "therm":
        return heat_content(fuel="natural_gas", unit="therm").joules
    return heat_content(fuel=fuel, unit=unit).joules


def gas_heat_content(btu_per_cubic_foot: float | None) -> float | None:
    """Heat of gas by its volume. [J/m³]"""
    return None if btu_per_cubic_foot is None else btu_per_cubic_foot * BTU_PER_CUBIC_FOOT


def shown_unit(fuel: str) -> tuple[str, float]:
    """The unit the fuel is sold by, and its energy. [J]"""
    unit = unit_of(fuel)
    return unit, heat_content(fuel=fuel, unit=unit).joules
