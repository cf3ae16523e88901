"""What measures do to a house: each a name and the state it leaves behind."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from agency.savings.errors import SavingsError
from agency.savings.house_energy import Figure, House, Plant


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A name, and what it does to a house."""

    name: str
    apply: Callable[[House], House]


def seal_leaks(name: str, *, saved: Figure) -> Change:
    """Less effective leakage area. [m²]"""
    return Change(
        name=name,
        apply=lambda house: replace(house, leakage_area=house.leakage_area - saved),
    )


def insulate(name: str, *, saved: Figure) -> Change:
    """Less conductance of the shell: insulation, windows, doors. [W/K]"""
    return Change(
        name=name, apply=lambda house: replace(house, conductance=house.conductance - saved)
    )


def mend_ducts(name: str, *, efficiency: Figure) -> Change:
    """Another distribution efficiency of the heating, regain included. [-]"""
    return Change(name=name, apply=lambda house: replace(house, distribution_efficiency=efficiency))


def replace_heating(name: str, *, plant: Plant) -> Change:
    """Another heating plant, of the same fuel or another."""
    return Change(name=name, apply=lambda house: replace(house, heating=plant))


def replace_cooling(name: str, *, efficiency: Figure) -> Change:
    """Another efficiency of a cooling that is there already. [-]"""

    def change(house: House) -> House:
        if house.cooling is None:
            raise SavingsError(
                f"{name}: the house has no cooling; there must be one to replace. Leave the "
                "measure out, or describe the cooling that is there."
            )
        return replace(house, cooling=replace(house.cooling, efficiency=efficiency))

    return Change(name=name, apply=change)


def lower_setpoint(name: str, *, by: Figure) -> Change:
    """A heating set point lower by the day's mean setback. [K]"""
    return Change(name=name, apply=lambda house: replace(house, setpoint=house.setpoint - by))


def save_hot_water(name: str, *, heat: Figure) -> Change:
    """Less heat drawn or lost: low-flow fittings, wrapped tank and pipes. [J]"""
    return Change(
        name=name, apply=lambda house: replace(house, hot_water_heat=house.hot_water_heat - heat)
    )


def replace_water_heater(name: str, *, plant: Plant) -> Change:
    """Another water heater, of the same fuel or another."""
    return Change(name=name, apply=lambda house: replace(house, hot_water=plant))


def save_baseload(name: str, *, energy: Figure, gains: Figure) -> Change:
    """Less electricity [J], and less heat from it while the house is heated [W].

    The heating penalty follows from the lost gains, and from no fixed share.
    """

    def change(house: House) -> House:
        left = house.baseload - energy
        return replace(house, baseload=left, gains=house.gains - gains)

    return Change(name=name, apply=change)
