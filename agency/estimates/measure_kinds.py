"""Kinds of measure, and what each is asked for: what was there before and what is there after."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal, Self

from pydantic import model_validator

from agency.diagnostics.document_parts import Asked, Fraction, Number, Part, Positive
from agency.diagnostics.document_words import refusal

FuelCode = Literal["natural_gas", "propane", "fuel_oil", "electricity", "kerosene", "wood"]
"""Codes of `programs.Fuel`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """What a kind of measure is called, does and is counted in."""

    title: str
    purpose: str
    unit: str
    """What the quantity of one measure counts."""
    rank: int
    """Place in the usual order of installation, from shell to plant to appliances."""


class Properties(Part):
    """Before and after of one measure, in the units a crew writes them in."""

    kind: ClassVar[Kind]


class AirSealing(Properties):
    """Leaks closed; the two fan tests decide, a planned flow stands in until the second."""

    kind = Kind(title="Air sealing", purpose="Leaks of the shell are closed.", unit="job", rank=10)

    planned_flow_50_cfm: Annotated[
        Positive | None,
        Asked(
            label="Flow at 50 Pa expected after the work, cfm",
            hint="Only used until a fan test after the work can be compared with the one before.",
        ),
    ] = None


class Insulation(Properties):
    """More resistance in one assembly."""

    kind = Kind(
        title="Insulation",
        purpose="Walls, ceilings, floors or foundation walls lose less heat.",
        unit="ft²",
        rank=20,
    )

    assembly: Annotated[
        Literal["wall", "ceiling", "floor", "foundation_wall"], Asked(label="Assembly")
    ]
    area_sqft: Annotated[Positive, Asked(label="Area, ft²")]
    r_before: Annotated[
        Positive,
        Asked(label="R before", hint="Through the cavity, air films included. °F ft² h/Btu"),
    ]
    r_after: Annotated[Positive, Asked(label="R after", hint="The same path after the work.")]
    framing_share: Annotated[
        Fraction | None,
        Asked(label="Share of framing", hint="0.25 for a quarter of the area; empty for none."),
    ] = None
    framing_r: Annotated[
        Positive | None,
        Asked(label="R through the framing", hint="Needed with a share of framing."),
    ] = None
    missed_share: Annotated[
        Fraction | None,
        Asked(label="Share left as it was", hint="Places that could not be reached; 0.1 for 10 %."),
    ] = None

    @model_validator(mode="after")
    def framing_in_pairs(self) -> Self:
        if (self.framing_share is None) != (self.framing_r is None):
            raise refusal(
                "framing_in_pairs",
                "The share of framing and its R are needed together.",
                next_step="Enter both, or neither where R is already of the whole assembly.",
            )
        return self


class Openings(Properties):
    """Windows or doors, or storms over them."""

    kind = Kind(
        title="Windows and doors",
        purpose="A better window or door, or a storm over the old one.",
        unit="ft²",
        rank=30,
    )

    area_sqft: Annotated[Positive, Asked(label="Area of the whole units, ft²")]
    u_before: Annotated[Positive, Asked(label="U before, Btu/(h ft² °F)")]
    u_after: Annotated[Positive, Asked(label="U after, Btu/(h ft² °F)")]


class DuctSealing(Properties):
    """Ducts that lose less air and heat, by their leaks or by a known efficiency."""

    kind = Kind(
        title="Duct sealing", purpose="More of the plant's heat arrives.", unit="job", rank=40
    )

    efficiency_after: Annotated[
        Positive | None,
        Asked(
            label="Distribution efficiency after",
            hint="Share that reaches the rooms, such as 0.88. Empty: worked out from the leaks.",
        ),
    ] = None
    leakage_before_cfm: Annotated[
        Number | None,
        Asked(label="Duct leakage to outside at 25 Pa before, cfm", hint="Supply and return."),
    ] = None
    leakage_after_cfm: Annotated[
        Number | None, Asked(label="Duct leakage to outside at 25 Pa after, cfm")
    ] = None
    fan_flow_cfm: Annotated[Positive | None, Asked(label="Air handler flow, cfm")] = None
    capacity_btuh: Annotated[Positive | None, Asked(label="Heating capacity, Btu/h")] = None
    supply_area_sqft: Annotated[
        Positive | None, Asked(label="Supply duct surface outside the rooms, ft²")
    ] = None
    return_area_sqft: Annotated[
        Positive | None, Asked(label="Return duct surface outside the rooms, ft²")
    ] = None
    duct_r: Annotated[
        Positive | None, Asked(label="R of the ducts, films included", hint="°F ft² h/Btu")
    ] = None
    location: Annotated[
        Literal["attic", "vented_crawl_space", "basement"] | None, Asked(label="Where they run")
    ] = None
    around_f: Annotated[
        Number | None, Asked(label="Mean winter temperature around the ducts, °F")
    ] = None

    LEAK_FIELDS: ClassVar[tuple[str, ...]] = (
        "leakage_before_cfm",
        "leakage_after_cfm",
        "fan_flow_cfm",
        "capacity_btuh",
        "supply_area_sqft",
        "return_area_sqft",
        "duct_r",
        "location",
        "around_f",
    )

    @model_validator(mode="after")
    def one_way(self) -> Self:
        given = [name for name in self.LEAK_FIELDS if getattr(self, name) is not None]
        whole = len(given) == len(self.LEAK_FIELDS)
        if (self.efficiency_after is None) == whole and (whole or not given):
            return self
        raise refusal(
            "efficiency_or_leaks",
            "Duct sealing is described by the efficiency after it, or by all figures of the "
            "leaks; never by both or by some.",
            next_step="Enter the efficiency alone, or every other field of this form.",
        )


class HeatingPlant(Properties):
    """Another heating plant, of the same fuel or another."""

    kind = Kind(
        title="Heating replacement",
        purpose="The new plant needs less energy, or another fuel, for the same heat.",
        unit="each",
        rank=50,
    )

    fuel_after: Annotated[FuelCode, Asked(label="Fuel after")]
    efficiency_after: Annotated[
        Positive,
        Asked(
            label="Efficiency after", hint="Heat out per energy in: 0.95, or 2.6 for a heat pump."
        ),
    ]


class CoolingPlant(Properties):
    """Another air conditioner."""

    kind = Kind(
        title="Cooling replacement",
        purpose="Less electricity for the same cooling.",
        unit="each",
        rank=60,
    )

    seer_after: Annotated[
        Positive, Asked(label="Seasonal rating after (SEER)", hint="Btu per watt-hour.")
    ]


class Thermostat(Properties):
    """A lower heating set point for part of the day."""

    kind = Kind(
        title="Thermostat",
        purpose="The house is kept cooler for hours a day.",
        unit="each",
        rank=70,
    )

    setback_f: Annotated[Positive, Asked(label="Setback, °F")]
    hours_a_day: Annotated[Positive, Asked(label="Hours of setback a day")]


class WaterHeater(Properties):
    """Another water heater."""

    kind = Kind(
        title="Water heater", purpose="Less energy for the same hot water.", unit="each", rank=80
    )

    fuel_after: Annotated[FuelCode, Asked(label="Fuel after")]
    efficiency_after: Annotated[
        Positive, Asked(label="Efficiency after (UEF)", hint="Such as 0.64, or 3.2.")
    ]


class LowFlow(Properties):
    """Less hot water drawn."""

    kind = Kind(title="Low-flow fittings", purpose="Less hot water is drawn.", unit="each", rank=81)

    gallons_a_day: Annotated[Positive, Asked(label="Hot water no longer drawn, gal a day")]


class TankWrap(Properties):
    """A tank or pipes that lose less heat."""

    kind = Kind(
        title="Tank and pipe wrap", purpose="Hot water keeps its heat.", unit="each", rank=82
    )

    area_sqft: Annotated[Positive, Asked(label="Surface wrapped, ft²")]
    r_before: Annotated[Positive, Asked(label="R before", hint="°F ft² h/Btu")]
    r_after: Annotated[Positive, Asked(label="R after", hint="°F ft² h/Btu")]
    warmer_f: Annotated[Positive, Asked(label="Water warmer than the air around it by, °F")]


class Lighting(Properties):
    """Lamps that draw less."""

    kind = Kind(
        title="Lighting",
        purpose="Less electricity for the same light; the heat of the old lamps is missed.",
        unit="lamps",
        rank=90,
    )

    lamps: Annotated[Positive, Asked(label="Lamps")]
    watts_before: Annotated[Positive, Asked(label="Watts each, before")]
    watts_after: Annotated[Positive, Asked(label="Watts each, after")]
    hours_a_day: Annotated[Positive, Asked(label="Hours a day")]


class Appliance(Properties):
    """A refrigerator or other appliance, metered before and rated after."""

    kind = Kind(
        title="Appliance", purpose="Less electricity for the same work.", unit="each", rank=91
    )

    metered_kwh: Annotated[Positive, Asked(label="Metered before, kWh")]
    metered_hours: Annotated[Positive, Asked(label="Hours it was metered")]
    rated_kwh: Annotated[Number, Asked(label="Rated use of the new one, kWh a year")]


class NoSaving(Properties):
    """Work that saves no energy by itself: a hazard removed, a repair."""

    kind = Kind(
        title="Work without a saving",
        purpose="Health and safety, or a repair that makes another measure possible.",
        unit="job",
        rank=5,
    )


KINDS: Mapping[str, type[Properties]] = {
    "air_sealing": AirSealing,
    "insulation": Insulation,
    "openings": Openings,
    "duct_sealing": DuctSealing,
    "heating": HeatingPlant,
    "cooling": CoolingPlant,
    "thermostat": Thermostat,
    "water_heater": WaterHeater,
    "low_flow": LowFlow,
    "tank_wrap": TankWrap,
    "lighting": Lighting,
    "appliance": Appliance,
    "no_saving": NoSaving,
}
"""By the code a measure is stored under."""
KIND_CHOICES = [(code, kind.kind.title) for code, kind in KINDS.items()]
