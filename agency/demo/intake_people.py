"""Invented households that wait, are being decided, or were turned down."""

from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True, kw_only=True)
class Applicant:
    """One application of the demonstration."""

    name: str
    days_ago: int
    """Since it came in."""
    fate: str = "waiting"
    """waiting, received, papers, overdue, denied, barred or withdrawn."""
    household: dict[str, int] = field(default_factory=lambda: {"aged_19_to_59": 2})
    method: str = "twelve_months"
    incomes: tuple[tuple[str, str], ...] = (("wages", "24600"),)
    """Kind and amount, in the months of the method."""
    rents: bool = False
    permitted: bool = True
    energy: tuple[str, str | None, str] | None = None
    """Fuel, amount and cost of 12 months."""
    emergency: str = ""
    unit: str = ""
    """Unit of the invented building; empty: a house of its own."""

    @property
    def words(self) -> dict[str, Any]:
        """Contact of the client."""
        return {"name": self.name, "phone": f"555-01{self.days_ago % 90 + 10:02}"}


PROPANE_HEAVY = ("propane", "940", "2820.50")
GAS_USUAL = ("natural_gas", "68", "910.25")
GAS_HEAVY = ("natural_gas", "131.5", "1702.80")
ELECTRIC = ("electricity", "15220", "2190.40")
ELDERS = {"aged_60_or_over": 2}
ELDER = {"aged_60_or_over": 1}
FAMILY = {"under_6": 1, "aged_6_to_17": 2, "aged_19_to_59": 2}
LONE_PARENT = {"under_6": 2, "aged_19_to_59": 1}
CARED_FOR = {"aged_60_or_over": 1, "aged_19_to_59": 1, "with_disability": 1}
PENSION = (("social_security", "14870"), ("pension", "3110"))

APPLICANTS = (
    Applicant(name="Perpetua Stallworth", days_ago=318, household=ELDER, incomes=PENSION,
              energy=GAS_HEAVY),
    Applicant(name="Anselm Okpara-Lind", days_ago=305, household=FAMILY, energy=PROPANE_HEAVY,
              incomes=(("wages", "31200"), ("child_support", "2400"))),
    Applicant(name="Ludmila Varga-Pell", days_ago=291, household=CARED_FOR, incomes=PENSION,
              energy=ELECTRIC),
    Applicant(name="Hollis Brandreth", days_ago=264),
    Applicant(name="Caoimhe Ní Dhúlaing", days_ago=251, household=LONE_PARENT, rents=True,
              incomes=(("wages", "17940"),), energy=GAS_USUAL),
    Applicant(name="Bartholomew Quisenberry", days_ago=240, household=ELDERS, incomes=PENSION),
    Applicant(name="Trần Mỹ Linh", days_ago=228, household=FAMILY, rents=True, permitted=False,
              method="short", incomes=(("wages", "8450"),)),
    Applicant(name="Gwendolen Ashdown-Mbeki", days_ago=205, household=ELDER, method="none",
              incomes=(), energy=("fuel_oil", "610", "2240.00")),
    Applicant(name="Rafael Ondarza", days_ago=190, household=FAMILY, energy=GAS_HEAVY),
    Applicant(name="Ingeborg Thorvaldsen", days_ago=176, household=ELDER, method="benefit",
              incomes=()),
    Applicant(name="Desmond Achterberg", days_ago=168, incomes=(("self_employment", "19880"),)),
    Applicant(name="Marietta Colquhoun", days_ago=150, household=CARED_FOR, incomes=PENSION,
              energy=PROPANE_HEAVY, emergency="Furnace red-tagged; the household heats one room."),
    Applicant(name="Yusuf Kandemir", days_ago=139, household=LONE_PARENT, rents=True),
    Applicant(name="Philomena Gatwick-Roe", days_ago=121, household=ELDERS, incomes=PENSION),
    Applicant(name="Tomasz Brzezicki", days_ago=104, household=FAMILY),
    Applicant(name="Evangeline Prosper", days_ago=97, household=ELDER, incomes=PENSION,
              energy=GAS_USUAL, unit="1A", rents=True),
    Applicant(name="Kwabena Osei-Duah", days_ago=96, household=FAMILY, unit="1B", rents=True),
    Applicant(name="Solveig Rasmussen", days_ago=95, household=CARED_FOR, incomes=PENSION,
              unit="2A", rents=True),
    Applicant(name="Matthias Underhill", days_ago=61),
    Applicant(name="Josephine Larkmoor", days_ago=48, household=ELDERS, incomes=PENSION,
              energy=ELECTRIC),
    Applicant(name="Alistair Penhallow", days_ago=94, unit="2B", rents=True, fate="denied",
              incomes=(("wages", "58800"),)),
    Applicant(name="Ruthanne Billingsgate", days_ago=15, fate="received", household=ELDER),
    Applicant(name="Emre Yıldızoğlu", days_ago=9, fate="received", household=FAMILY, rents=True,
              permitted=False),
    Applicant(name="Clementine Dove", days_ago=4, fate="received"),
    Applicant(name="Octavian Radulescu", days_ago=40, fate="overdue", household=LONE_PARENT),
    Applicant(name="Beatrix Hollowell", days_ago=21, fate="papers", household=ELDERS),
    Applicant(name="Fergus Tamsin-Drew", days_ago=70, fate="barred", household=ELDER,
              incomes=PENSION),
    Applicant(name="Leocadia Montfort", days_ago=82, fate="withdrawn"),
)  # fmt: skip

SOURCE = "invented for the demo"
PARCEL = "12-0440-31"
BUILDING = {
    "name": "Depot Street Flats",
    "address": "40 S Depot Street",
    "city": "Tarn Hollow",
    "state": "QM",
    "postal_code": "00155",
    "parcel": PARCEL,
    "units_total": 6,
    "tested": "guarded",
}
UNITS = ("1A", "1B", "2A", "2B", "3A")
"""On the roster; of the sixth unit nothing is known yet."""
VACANT = "3A"
OWNER = "Depot Street Holdings (invented)"
EARLIER = {
    "address": "602 Windrow Ln",
    "postal_code": "00155",
    "source": "List of the former agency (invented)",
}
EARLIER_HOME = {"address": "602 Windrow Lane", "unit": "", "city": "Tarn Hollow",
                "postal_code": "00155"}  # fmt: skip
BENEFIT = {
    "name": "Quillmoor Winter Heating Help (invented)",
    "state": "QM",
    "window_months": 12,
    "proof": "Award letter",
    "source": SOURCE,
}
