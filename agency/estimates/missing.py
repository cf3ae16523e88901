"""What an infiltration estimate still lacks, and where a person can enter it."""

from typing import TypeVar

from agency.estimates.inputs import EstimateInputs, Refusal

Value = TypeVar("Value")

ON_HOUSE_PAGE = "on the house page"


def given(value: Value | None) -> Value:
    """A value that was found present before; None here is a slip of the program."""
    if value is None:
        raise LookupError("An estimate went on although an input it needs is missing.")
    return value


def missing_for_all(inputs: EstimateInputs) -> list[Refusal]:
    """What the whole estimate cannot do without."""
    lacking = []
    if inputs.weather is None:
        lacking.append(
            ("weather", "No weather year was chosen.", "Choose a weather station for the county.")
        )
    if inputs.storeys is None:
        lacking.append(
            (
                "storeys",
                "The number of storeys is not known.",
                f"Enter the storeys above grade {ON_HOUSE_PAGE}.",
            )
        )
    if inputs.shelter_class is None:
        lacking.append(
            (
                "shelter",
                "The shelter from wind is not known.",
                f"Choose the shelter {ON_HOUSE_PAGE}.",
            )
        )
    for when, test in (("before", inputs.before), ("after", inputs.after)):
        if test.leakage_area is None:
            lacking.append(
                (
                    f"{when}.leakage_area",
                    f"The test {when} the work gave no effective leakage area.",
                    f"Upload a valid fan test taken {when} the work.",
                )
            )
        elif test.relative_uncertainty is None:
            lacking.append(
                (
                    f"{when}.relative_uncertainty",
                    f"The test {when} the work has no uncertainty, so no range can be given.",
                    "Upload a test with readings at several pressures.",
                )
            )
    return [
        Refusal(part="estimate", field=field, reason=reason, next_step=next_step)
        for field, reason, next_step in lacking
    ]


def missing_for_parts(inputs: EstimateInputs) -> list[Refusal]:
    """What single parts lack while the rest of the estimate can be made."""
    refusals = [*_for_heating(inputs), *_for_cooling(inputs)]
    if inputs.volume is None:
        refusals.append(
            Refusal(
                part="air_change",
                field="volume",
                reason="The volume is not known, so air changes an hour are left out.",
                next_step=f"Enter the heated volume {ON_HOUSE_PAGE}.",
            )
        )
    without = {refusal.part for refusal in refusals}
    if "heating" not in without and inputs.heating_price is None:
        refusals.append(_no_price("heating", inputs.heating_fuel))
    if "cooling" not in without and inputs.electricity_price is None:
        refusals.append(_no_price("cooling", "electricity"))
    return refusals


def _for_heating(inputs: EstimateInputs) -> list[Refusal]:
    if not inputs.heating_fuel:
        return [
            Refusal(
                part="heating",
                field="heating_fuel",
                reason="The heating fuel is not known.",
                next_step=f"Choose it {ON_HOUSE_PAGE}.",
            )
        ]
    if inputs.heating_efficiency is None:
        return [
            Refusal(
                part="heating",
                field="heating_efficiency",
                reason="The efficiency of the heating is not known.",
                next_step=f"Enter heat out per energy in {ON_HOUSE_PAGE}, such as 0.80.",
            )
        ]
    return _for_distribution(inputs, "heating")


def _for_cooling(inputs: EstimateInputs) -> list[Refusal]:
    if inputs.cooling_efficiency is None:
        return [
            Refusal(
                part="cooling",
                field="cooling_efficiency",
                reason="The house has no cooling equipment on record, so cooling is left out.",
                next_step=f"If it has, enter its seasonal efficiency {ON_HOUSE_PAGE}.",
            )
        ]
    return _for_distribution(inputs, "cooling")


def _for_distribution(inputs: EstimateInputs, part: str) -> list[Refusal]:
    if inputs.distribution_efficiency is not None:
        return []
    return [
        Refusal(
            part=part,
            field="distribution_efficiency",
            reason="What the ducts or pipes lose on the way is not known.",
            next_step=f"Enter the distribution efficiency {ON_HOUSE_PAGE}; 1.00 without any.",
        )
    ]


def _no_price(part: str, fuel: str) -> Refusal:
    return Refusal(
        part="money",
        field=f"{part}_price",
        reason=f"No price of {fuel.replace('_', ' ')} holds on the day of the estimate.",
        next_step="Enter a price with its source, and the estimate will show money.",
    )
