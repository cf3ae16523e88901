"""Form of a dwelling's need of ventilation: sizes, people, fan, and what may be credited."""

from typing import Annotated, Any, ClassVar, Literal

from pydantic import BeforeValidator, Field, StrictBool

from agency.errors import FieldReason

from ..document_parts import Asked, Form, Fraction, Number, Part, Positive, TestDocument, Word
from ..document_words import finite_number, refusal
from .exhaust_fans import Edition


def whole_number(value: Any) -> float:
    """`value` as a count; it is whole and not negative."""
    number = finite_number(value)
    if number < 0 or number != int(number):
        raise refusal(
            "not_a_count",
            f"{number:g} is not a count.",
            limit="0, 1, 2 and so on",
            next_step="Count again, or send null where it is not known.",
        )
    return number


Count = Annotated[float, BeforeValidator(whole_number)]


class LocalExhaust(Part):
    """One kitchen or full bathroom of an existing dwelling, typed in without a test of its own."""

    room: Annotated[Word, Asked(label="Room")]
    sort: Annotated[Literal["kitchen", "bathroom"], Asked(label="Kind of room")]
    flow: Annotated[
        Number | None,
        Asked(label="Exhaust measured", quantity="flow", hint="0 where there is no fan."),
    ] = None
    window: Annotated[
        Literal["opens", "does_not_open", "none"] | None, Asked(label="Window of the room")
    ] = None


class VentilationNeedDocument(TestDocument):
    """Flow the dwelling's fan must have, by the ordinary path or that of existing dwellings."""

    form: ClassVar[Form] = Form(
        title="Whole-house ventilation",
        purpose="How much air the fan of the dwelling must move, and for how long each hour.",
        moves_air=False,
    )

    kind: Literal["ventilation_need"]
    method: Literal["ordinary", "existing_dwelling"]
    edition: Annotated[Edition, Asked(label="Edition of ASHRAE 62.2")]
    bedrooms: Annotated[Count | None, Asked(label="Bedrooms", quantity="number")] = None
    occupants: Annotated[
        Count | None,
        Asked(label="People who live there", quantity="number", hint="Empty where not known."),
    ] = None
    fan: Annotated[
        Literal["balanced", "exhaust_or_supply_only"], Asked(label="Ventilation of the house")
    ]
    fan_flow: Annotated[
        Number | None,
        Asked(
            label="Measured flow of the fan",
            quantity="flow",
            hint="For the minutes each hour it must run; empty where there is none yet.",
        ),
    ] = None
    infiltration_credit: Annotated[
        StrictBool,
        Asked(
            label="Count the infiltration of the latest tightness test",
            hint="Without a weather and shielding factor there is no credit.",
        ),
    ]
    weather_factor: Annotated[
        Positive | None,
        Asked(
            label="Weather and shielding factor",
            quantity="ratio",
            hint="Typed in; it is not worked out here.",
        ),
    ] = None
    weather_basis: Annotated[
        Literal["table_of_the_standard", "computed"] | None,
        Asked(label="The factor is from", hint="A computed one is not for compliance."),
    ] = None
    weather_station: Annotated[Word | None, Asked(label="Weather station of the factor")] = None
    weather_edition: Annotated[Edition | None, Asked(label="Edition the factor was read in")] = None
    outdoor_share: Annotated[
        Fraction | None,
        Asked(
            label="Envelope to outdoors, share of the whole",
            quantity="share",
            hint="1 for a detached house; less where dwellings adjoin.",
        ),
    ] = None
    rooms: Annotated[
        list[LocalExhaust],
        Field(max_length=20, title="Kitchens and full bathrooms, typed in"),
    ] = Field(default_factory=list)

    def contradictions(self) -> list[FieldReason]:
        """A factor that nobody says the origin of."""
        if self.weather_factor is None or self.weather_basis is not None:
            return []
        return [
            FieldReason(
                field="weather_basis",
                code="basis_missing",
                message="A weather and shielding factor is given, but not where it is from.",
                value=self.weather_factor,
                limit="table_of_the_standard, computed",
                next_step="Say whether it was read in the standard's table or computed.",
            )
        ]
