"""One edition of the ventilation standard, put together from its rows in the rule book."""

from agency.leakage.errors import LeakageError
from agency.leakage.ventilation import VentilationEdition
from agency.rulebook.shipped import RuleLike

from .book import Book
from .si import FLOW, LENGTH

CFM = FLOW["cfm"]
PER_AREA = CFM / LENGTH["ft"] ** 2
"""One cfm/ft². [m³/(s m²)]"""


def edition_of(book: Book, year: str) -> VentilationEdition:
    """The numbers of one edition in SI; read only where every one of them was.

    Raises
    ------
    LeakageError
        The edition was not in force on the day of the test.
    """
    prefix = f"ventilation.{year}."
    rows = _rows(book, prefix, year)

    def number(name: str) -> float:
        return book.setting(f"{prefix}{name}")

    def optional(name: str) -> float | None:
        return number(name) if name in rows else None

    height = optional("reference-height")
    is_read = all(rule.provenance == "read" for rule in rows.values())
    return VentilationEdition(
        edition=f"ASHRAE 62.2-{year}",
        floor_rate=number("floor-rate") * PER_AREA,
        person_rate=number("person-rate") * CFM,
        fewest_bedrooms=int(number("fewest-bedrooms")),
        pressure_factor=optional("pressure-factor"),
        reference_height=(height or 1.0) * LENGTH["ft"],
        height_exponent=optional("height-exponent") or 0.0,
        credit_share=number("credit-share"),
        credit_floor_rate=number("credit-floor-rate") * PER_AREA,
        has_superposition="superposition-cap" in rows,
        superposition_cap=optional("superposition-cap"),
        # The cap of new construction does not hold for existing dwellings.
        credit_cap=None,
        deficit_share=number("deficit-share"),
        window_credit=number("window-credit") * CFM,
        source=rows["floor-rate"].source,
        provenance="read" if is_read else "from memory",
    )


def _rows(book: Book, prefix: str, year: str) -> dict[str, RuleLike]:
    """Rules of one edition by the last part of their codes."""
    rows = {rule.code.removeprefix(prefix): rule for rule in book.beginning(prefix)}
    if not rows:
        raise LeakageError(
            f"The rule book holds no edition {year} of ASHRAE 62.2 on the day of the test. Choose "
            "an edition that was in force."
        )
    return rows


def deficit_requirement(book: Book, year: str, room: str) -> float:
    """Exhaust a kitchen or bathroom of an existing dwelling is held against. [m³/s]"""
    return book.setting(f"ventilation.{year}.deficit-{room}") * CFM
