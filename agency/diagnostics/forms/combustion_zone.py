"""Form of a combustion zone test: worst case, each appliance in it, and the air of the house."""

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from agency.charts.hookup import ChannelHookup, HookupCard
from agency.errors import FieldReason

from ..document_parts import Asked, Form, Number, Part, Positive, TestDocument, Word
from ..document_words import choices_words

Seen = Literal["seen", "not_seen"] | None
Spillage = Literal["stopped", "did_not_stop"] | None
Venting = Literal[
    "orphan_water_heater",
    "natural_draft_shared",
    "natural_draft_alone",
    "induced_draft_with_natural",
    "induced_draft_alone",
    "power_vented",
    "sealed_combustion",
    "unvented",
]
ZONE = ChannelHookup(
    name="A", input="combustion zone", reference="outside", expected="below zero in the worst case"
)
HOOKUPS = (
    HookupCard(title="Combustion zone, worst case", channels=(ZONE, ChannelHookup(name="B"))),
    HookupCard(
        title="Combustion zone, draft of one appliance",
        channels=(
            ZONE,
            ChannelHookup(
                name="B",
                input="vent connector",
                reference="combustion zone",
                expected="below zero with a good draft",
            ),
        ),
    ),
)


class Mover(Part):
    """One device that moves air, and what it did while the worst case was read."""

    name: Annotated[Word, Asked(label="Device")]
    sort: Annotated[Literal["dryer", "exhaust_fan", "air_handler"], Asked(label="Kind of device")]
    worst_case: Annotated[
        Literal["on", "off", "could_not_run"],
        Asked(
            label="In the worst case",
            hint="Dryer and exhaust fans on; the air handler only where it makes it more negative.",
        ),
    ]


class Door(Part):
    """One interior door as it stood when the worst case was read."""

    name: Annotated[Word, Asked(label="Door")]
    position: Annotated[Literal["open", "closed"], Asked(label="In the worst case")]


class Appliance(Part):
    """One appliance that burns fuel, with everything seen and read of it."""

    name: Annotated[Word, Asked(label="Appliance")]
    sort: Annotated[
        Literal[
            "water_heater",
            "furnace",
            "boiler",
            "floor_furnace",
            "wall_furnace",
            "direct_vent_wall_furnace",
            "room_heater",
            "oven",
            "top_burner",
            "dryer",
        ],
        Asked(label="Kind of appliance", hint="Decides which limit of carbon monoxide holds."),
    ]
    fuel: Annotated[
        Literal["natural_gas", "propane", "oil", "kerosene", "wood"], Asked(label="Fuel")
    ]
    venting: Annotated[
        Venting,
        Asked(
            label="Venting",
            hint="Shared: on one vent with another. Orphan: a water heater left alone on a "
            "chimney made for more.",
        ),
    ]
    input: Annotated[Positive | None, Asked(label="Input on the nameplate", quantity="heat")] = None
    vent: Annotated[Literal["warm", "cold"] | None, Asked(label="Vent when the burner came on")] = (
        None
    )
    spillage: Annotated[
        Spillage, Asked(label="Spillage, worst case", hint="Stopped at 0 s where there was none.")
    ] = None
    spillage_seconds: Annotated[
        Number | None, Asked(label="Until it stopped, or watched", quantity="seconds")
    ] = None
    draft: Annotated[
        Number | None,
        Asked(
            label="Draft, vent to zone",
            quantity="pressure",
            channel="B",
            plausible="input.building-pressure",
        ),
    ] = None
    carbon_monoxide: Annotated[
        Number | None,
        Asked(
            label="Carbon monoxide in the flue, as measured",
            quantity="ppm",
            hint="Undiluted gas, after five minutes of the main burner.",
        ),
    ] = None
    oxygen: Annotated[Number | None, Asked(label="Oxygen in the same gas", quantity="percent")] = (
        None
    )
    flame_rollout: Annotated[Seen, Asked(label="Flame roll-out")] = None
    soot: Annotated[Seen, Asked(label="Soot or scorching")] = None
    blocked_vent: Annotated[Seen, Asked(label="Vent blocked, rusted through or apart")] = None
    gas_leak: Annotated[Seen, Asked(label="Gas leak at the appliance or its pipe")] = None
    natural_spillage: Annotated[
        Spillage,
        Asked(
            label="Spillage, natural conditions",
            hint="Only after spillage in the worst case, with the vent cooled and all fans off.",
        ),
    ] = None
    natural_seconds: Annotated[
        Number | None, Asked(label="Until that stopped, or watched", quantity="seconds")
    ] = None
    afterwards: Annotated[
        Literal["relit_and_seen_burning", "left_off_and_tagged"] | None,
        Asked(label="When leaving"),
    ] = None


def pressure_in_zone(label: str) -> Asked:
    """A pressure of the zone against outside, asked for in one step of the worst case."""
    return Asked(label=label, quantity="pressure", channel="A", plausible="input.building-pressure")


def in_air(label: str) -> Asked:
    """Carbon monoxide in the air of one place."""
    return Asked(label=f"Carbon monoxide {label}", quantity="ppm")


class CombustionZoneDocument(TestDocument):
    """Baseline, fans, doors and air handler in turn; then the appliances, smallest first."""

    form: ClassVar[Form] = Form(
        title="Combustion zone",
        purpose="Whether the fans of the house can pull combustion gas back into it.",
        moves_air=True,
        finds_hazards=True,
        hookups=HOOKUPS,
    )

    kind: Literal["combustion_zone"]
    method: Literal["worst_case"]
    zone: Annotated[Word, Asked(label="Combustion zone", hint="The room the appliances stand in.")]
    outdoor_carbon_monoxide: Annotated[Number | None, in_air("outdoors")] = None
    house_carbon_monoxide: Annotated[Number | None, in_air("in the house")] = None
    zone_carbon_monoxide: Annotated[Number | None, in_air("in the zone")] = None
    combustible_gas: Annotated[Seen, Asked(label="Combustible gas in air or at joints")] = None
    baseline: Annotated[Number | None, pressure_in_zone("1. Everything off")] = None
    fans_on: Annotated[Number | None, pressure_in_zone("2. Dryer and every exhaust fan on")] = None
    doors_set: Annotated[
        Number | None, pressure_in_zone("3. Each interior door set for the most negative reading")
    ] = None
    handler_on: Annotated[
        Number | None, pressure_in_zone("4. Air handler on as well, doors set again")
    ] = None
    natural: Annotated[
        Number | None, pressure_in_zone("Retest under natural conditions, everything off")
    ] = None
    movers_listed: Annotated[
        Literal["all_listed", "there_are_none"] | None,
        Asked(label="Dryer, exhaust fans and air handler of the house"),
    ] = None
    movers: Annotated[list[Mover], Field(max_length=20, title="What was on in the worst case")] = (
        Field(default_factory=list)
    )
    doors: Annotated[list[Door], Field(max_length=20, title="Interior doors in the worst case")] = (
        Field(default_factory=list)
    )
    appliances: Annotated[
        list[Appliance], Field(max_length=12, title="Appliances, smallest first")
    ] = Field(default_factory=list)

    @property
    def has_handler(self) -> bool:
        """An air handler is among what moves air."""
        return any(one.sort == "air_handler" for one in self.movers)

    def contradictions(self) -> list[FieldReason]:
        """Two appliances of one name, devices listed and denied, spillage without its time."""
        found = [*self._same_names(), *self._untimed()]
        if self.movers_listed == "there_are_none" and self.movers:
            found.append(
                FieldReason(
                    field="movers_listed",
                    code="movers_denied",
                    message="Devices that move air are listed, and there are said to be none.",
                    value=self.movers_listed,
                    limit="all_listed",
                    next_step="Take the devices off the list, or say that all are listed.",
                )
            )
        if self.handler_on is not None and not self.has_handler:
            found.append(
                FieldReason(
                    field="handler_on",
                    code="handler_not_listed",
                    message="The zone was read with the air handler on, but none is listed.",
                    value=self.handler_on,
                    next_step="List the air handler under movers, or take the reading out.",
                )
            )
        return found

    def _same_names(self) -> list[FieldReason]:
        names = [one.name for one in self.appliances]
        return [
            FieldReason(
                field=f"appliances[{number}].name",
                code="appliance_twice",
                message="Two appliances have this name.",
                value=name,
                limit=choices_words(names[:number]),
                next_step="Name them apart, by their room or their maker's plate.",
            )
            for number, name in enumerate(names)
            if name in names[:number]
        ]

    def _untimed(self) -> list[FieldReason]:
        return [
            FieldReason(
                field=f"appliances[{number}].{seconds}",
                code="spillage_untimed",
                message=f"{one.name}: spillage was watched, but not for how long.",
                next_step="Send the seconds until it stopped, or for which it was watched.",
            )
            for number, one in enumerate(self.appliances)
            for spillage, seconds in (
                ("spillage", "spillage_seconds"),
                ("natural_spillage", "natural_seconds"),
            )
            if getattr(one, spillage) is not None and getattr(one, seconds) is None
        ]
