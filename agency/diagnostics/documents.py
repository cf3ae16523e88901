"""Test-run documents of every kind: which there are, and reading them from JSON."""

from collections.abc import Iterable
from typing import Any, get_args

from pydantic import ValidationError

from agency.errors import DocumentRefused, FieldReason

from .document_json import check_plain_data, read_json
from .document_parts import UNIT_OF, FanReading, Part, TestDocument, Units, readings_in
from .document_words import choices_words, reasons_from
from .forms.air_handler import AirHandlerDocument
from .forms.attached import AttachedDocument
from .forms.combustion_zone import CombustionZoneDocument
from .forms.component import ComponentDocument
from .forms.duct_leakage import DuctLeakageDocument
from .forms.duct_sweep import DuctSweepDocument
from .forms.envelope import EnvelopeDocument
from .forms.exhaust_fans import ExhaustFansDocument
from .forms.gauge_check import GaugeCheckDocument
from .forms.pressure_pan import PressurePanDocument
from .forms.register_flows import RegisterFlowsDocument
from .forms.room_balance import RoomBalanceDocument
from .forms.static_pressure import StaticPressureDocument
from .forms.ventilation_need import VentilationNeedDocument
from .forms.zone import ZoneDocument
from .forms.zone_network import ZoneNetworkDocument

KINDS: dict[str, type[TestDocument]] = {
    "envelope": EnvelopeDocument,
    "attached": AttachedDocument,
    "component": ComponentDocument,
    "combustion_zone": CombustionZoneDocument,
    "exhaust_fans": ExhaustFansDocument,
    "ventilation_need": VentilationNeedDocument,
    "duct_leakage": DuctLeakageDocument,
    "pressure_pan": PressurePanDocument,
    "duct_sweep": DuctSweepDocument,
    "air_handler": AirHandlerDocument,
    "static_pressure": StaticPressureDocument,
    "room_balance": RoomBalanceDocument,
    "register_flows": RegisterFlowsDocument,
    "gauge_check": GaugeCheckDocument,
    "zone": ZoneDocument,
    "zone_network": ZoneNetworkDocument,
}
"""Form definitions by `kind`; a further kind of test is one more entry."""


def title_of(kind: str) -> str:
    """The kind in words; a kind this version does not know is shown by its code."""
    return KINDS[kind].form.title if kind in KINDS else kind


def parse(data: object) -> TestDocument:
    """The document in `data`, or DocumentRefused with every reason found."""
    check_plain_data(data)
    if not isinstance(data, dict):
        raise DocumentRefused(
            [
                FieldReason(
                    field="",
                    code="not_an_object",
                    message=f"The document is a {type(data).__name__}, not an object.",
                    next_step="Send one test as one JSON object.",
                )
            ]
        )
    model = KINDS.get(data["kind"]) if isinstance(data.get("kind"), str) else None
    if model is None:
        raise DocumentRefused([_unknown_kind(data)])
    try:
        document = model.model_validate(data)
    except ValidationError as error:
        raise DocumentRefused(reasons_from(error)) from None
    reasons = [*_missing_units(document), *_dangling_names(document), *document.contradictions()]
    if reasons:
        raise DocumentRefused(reasons)
    return document


def parse_json(text: str | bytes) -> TestDocument:
    """The document in JSON `text`, or DocumentRefused."""
    return parse(read_json(text))


def _unknown_kind(data: dict[str, Any]) -> FieldReason:
    given = data.get("kind")
    return FieldReason(
        field="kind",
        code="unknown_kind",
        message="The kind of test is missing." if given is None else "This kind is not known.",
        value=given if isinstance(given, str) else None,
        limit=choices_words(KINDS),
        next_step="Name the kind of test.",
    )


def _missing_units(document: TestDocument) -> list[FieldReason]:
    """Units that are not named although a value of their quantity was sent."""
    used = {
        UNIT_OF[one.asked.quantity]
        for one in readings_in(document)
        if one.asked.quantity in UNIT_OF and one.value is not None
    }
    return [
        FieldReason(
            field=f"units.{name}",
            code="unit_missing",
            message=f"The document holds a {name.replace('_', ' ')} value but not its unit.",
            limit=choices_words(_choices(name)),
            next_step="Name the unit the value was read in; no unit is assumed.",
        )
        for name in Units.model_fields
        if name in used and getattr(document.units, name) is None
    ]


def _choices(unit: str) -> Iterable[str]:
    annotation = Units.model_fields[unit].annotation
    return [one for choice in get_args(annotation) for one in get_args(choice) or ()]


def _dangling_names(document: TestDocument) -> list[FieldReason]:
    """Fans named twice, and fans read but not listed."""
    serials = [fan.serial for fan in document.fans]
    twice = [
        FieldReason(
            field=f"fans[{number}].serial",
            code="fan_twice",
            message="This fan is listed twice.",
            value=serial,
            next_step="List each fan once.",
        )
        for number, serial in enumerate(serials)
        if serial in serials[:number]
    ]
    return twice + [
        FieldReason(
            field=f"{path}.serial",
            code="fan_not_listed",
            message="This fan was read but is not listed under fans.",
            value=reading.serial,
            limit=choices_words(serials),
            next_step="List the fan under fans, or correct the serial number.",
        )
        for path, reading in _fan_readings(document)
        if reading.serial not in serials
    ]


def _fan_readings(part: Part, path: str = "") -> Iterable[tuple[str, FanReading]]:
    for name in type(part).model_fields:
        value = getattr(part, name)
        for number, one in enumerate(value if isinstance(value, list) else [value]):
            if not isinstance(one, Part):
                continue
            place = f"[{number}]" if isinstance(value, list) else ""
            here = f"{path}.{name}{place}".removeprefix(".")
            if isinstance(one, FanReading):
                yield here, one
            else:
                yield from _fan_readings(one, here)
