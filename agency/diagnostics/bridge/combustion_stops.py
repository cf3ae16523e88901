"""Safety stops of a combustion zone test: what was found, and what to do now, in order."""

from collections.abc import Sequence

from agency.leakage.validity import Status

from ..cautions import DEFER
from ..evaluation import Stop
from .combustion_limits import Judged

LEAVE = (
    "Leave with everyone in the house. Touch no switch and no phone inside.",
    "Call the gas supplier and the fire service from outside.",
    "Stay out until they say that the house is safe.",
)
OFF = "Turn the appliance off at its control and close its fuel valve."
TAG = "Leave it off and tagged, and tell the client in writing."
REPAIR = "Have a licensed technician put it right, then test the whole zone again."
STEPS = {
    "gas": LEAVE,
    "ambient": (
        "Turn off every appliance that burns fuel, open doors and windows.",
        "Look after anyone with headache, nausea or dizziness; call the fire service for them.",
        "Read the air again before anyone goes back in, and find the source.",
        REPAIR,
    ),
    "fault": (OFF, "Open the zone to outdoors until it is clear.", TAG, REPAIR),
    "spillage": (
        OFF,
        "Turn off dryer, exhaust fans and air handler, and open the zone to outdoors.",
        "Let the vent cool and test again under natural conditions where that was not done.",
        "Where it spills again, leave it off and tagged, and tell the client in writing.",
        REPAIR,
    ),
    "co": (OFF, "Read the air of the zone before staying in it.", TAG, REPAIR),
    "draft": (OFF, TAG, REPAIR),
    "depressurization": (
        "Turn off dryer, exhaust fans and air handler, and open the zone to outdoors.",
        "Do not tighten the house or its zone any further.",
        "Have exhaust taken away, air brought in or the venting changed by a licensed contractor.",
        "Repeat the worst case before the work goes on.",
    ),
}
"""By the first word of the hazard. Own wording; common practice, no source."""


def combustion_stops(judged: Sequence[Judged]) -> list[Stop]:
    """One stop for each hazard, with every limit it misses."""
    found: dict[str, list[Judged]] = {}
    for one in judged:
        if one.verdict.status is Status.REJECT:
            found.setdefault(one.hazard, []).append(one)
    return [
        Stop(
            hazard=f"combustion.{hazard}",
            words=" ".join(map(_words, missed)),
            steps=_steps(hazard, missed),
            cautions=DEFER,
        )
        for hazard, missed in found.items()
    ]


def _words(one: Judged) -> str:
    return f"{one.check.message} Source: {one.check.source} ({one.check.provenance})."


def _steps(hazard: str, missed: Sequence[Judged]) -> tuple[str, ...]:
    """What the rule itself says comes first for the air of a room: it knows how much there is."""
    kind = hazard.partition(".")[0]
    first = [one.check.next_step for one in missed] if kind == "ambient" else []
    return (*dict.fromkeys(first), *STEPS[kind])
