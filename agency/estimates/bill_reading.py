"""How a sender says a bill file is to be read, as plain data kept beside the file."""

from typing import Any

from .bill_files import BillFileError, DateOrder, Ending
from .billing import UtilityAccount
from .bridge.units import VOLUMES, gas_heat_content, joules_in, units_for
from .espi import Grouping

NO_HEAT = (
    "The energy is in ccf, a volume of gas. Enter the heat content printed on the bill, in Btu "
    "per cubic foot."
)


def csv_reading(
    account: UtilityAccount,
    *,
    start: str,
    end: str,
    energy: str,
    estimated: str,
    unit: str,
    btu_per_cubic_foot: float | None,
    ending: Ending,
    order: DateOrder,
    delimiter: str,
    corrections: bool,
) -> dict[str, Any]:
    """Columns, unit and dates of a CSV file.

    Raises
    ------
    BillFileError
        A unit this fuel is not billed in, or a volume without its heat content.
    """
    allowed = units_for(account.fuel)
    if unit not in allowed:
        fuel = account.get_fuel_display().lower()
        raise BillFileError(f"{unit} is no unit of {fuel}. Choose one of {', '.join(allowed)}.")
    joules = joules_in(fuel=account.fuel, unit=unit, btu_per_cubic_foot=btu_per_cubic_foot)
    if joules is None:
        raise BillFileError(NO_HEAT)
    return {
        "start": start,
        "end": end,
        "energy": energy,
        "estimated": estimated,
        "unit": unit,
        "joules_per_unit": joules,
        "btu_per_cubic_foot": btu_per_cubic_foot if unit in VOLUMES else None,
        "ending": str(ending),
        "order": str(order),
        "delimiter": delimiter,
        "corrections": corrections,
    }


def espi_reading(
    *, grouping: Grouping, zone: str, btu_per_cubic_foot: float | None, corrections: bool
) -> dict[str, Any]:
    """Which element of a feed is a bill, where the house stands, what its gas holds."""
    return {
        "grouping": str(grouping),
        "zone": zone,
        "gas_heat_content": gas_heat_content(btu_per_cubic_foot),
        "btu_per_cubic_foot": btu_per_cubic_foot,
        "corrections": corrections,
    }


def all_units() -> list[str]:
    """Every unit some account may be billed in."""
    fuels = [fuel for fuel, _ in UtilityAccount._meta.get_field("fuel").flatchoices]
    return list(dict.fromkeys(unit for fuel in fuels for unit in units_for(fuel)))
