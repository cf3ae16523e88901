"""What a crew looks for before a fan changes the pressures of a house, and what it does then."""

from dataclasses import dataclass
from typing import Literal

DEFER = (
    "A screening aid. Local code, the fuel supplier and a licensed practitioner decide; the "
    "stricter rule applies."
)
"""Stands beside every caution and every combustion result."""

Weight = Literal["stop", "no_depressurization", "prepare"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """One hazard to look for."""

    code: str
    look_for: str
    act: str
    weight: Weight
    """stop: no fan test; no_depressurization: only with the house above outdoors, if at all."""
    provenance: str


CAUTIONS = (
    Caution(
        code="gas",
        look_for="Smell of gas, or a gas alarm",
        act="Leave. Touch no switch. Call the supplier and the fire service from outside.",
        weight="stop",
        provenance="2018 IRC Appendix D, read in part",
    ),
    Caution(
        code="carbon_monoxide",
        look_for="Carbon monoxide in the air of the house",
        act="Ventilate, shut off what may be the source, leave above the action level.",
        weight="stop",
        provenance="2018 IRC Appendix D, read in part",
    ),
    Caution(
        code="asbestos",
        look_for="Vermiculite, or wrap on pipes or ducts that may hold asbestos",
        act="Do not depressurize and do not touch it. Test above outdoors only where the "
        "programme permits it, else skip the test and refer to a licensed contractor.",
        weight="no_depressurization",
        provenance="common practice, no source",
    ),
    Caution(
        code="fire",
        look_for="Fire or ash in a fireplace, a wood or a pellet stove",
        act="Wait until it is out and cold. Close the damper, cover or remove the ash.",
        weight="no_depressurization",
        provenance="common practice, no source",
    ),
    Caution(
        code="appliances",
        look_for="Appliances that burn fuel with air of the house",
        act="Turn them off or to pilot before the test. Restore them after it and see each one "
        "lit again before leaving.",
        weight="prepare",
        provenance="common practice, no source",
    ),
    Caution(
        code="unvented_heater",
        look_for="A heater without a vent",
        act="Turn it off and write it down; the programme may ask for its removal.",
        weight="prepare",
        provenance="common practice, no source",
    ),
    Caution(
        code="dust",
        look_for="Flaking paint of before 1978, lead dust, mould or sewage",
        act="Contain it or skip the test; lead-safe rules and their licensed trades come first.",
        weight="prepare",
        provenance="common practice, no source",
    ),
    Caution(
        code="sensitive_people",
        look_for="Someone with asthma or another condition that dust may make worse",
        act="Say in writing what the test does and let them leave before it.",
        weight="prepare",
        provenance="common practice, no source",
    ),
    Caution(
        code="pets_children",
        look_for="Children or pets near the fan",
        act="Keep them in another room and guard the fan's open side.",
        weight="prepare",
        provenance="common practice, no source",
    ),
    Caution(
        code="weak_ceiling",
        look_for="Weak ceilings, loose tiles, a hatch that is not latched",
        act="Secure them, or test at a lower pressure and say so.",
        weight="prepare",
        provenance="common practice, no source",
    ),
)
BY_CODE = {one.code: one for one in CAUTIONS}
