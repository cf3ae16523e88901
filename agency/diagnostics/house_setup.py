"""How a house is set up for a test: asked once a visit, so that before and after are alike."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupQuestion:
    """One thing to set and write down; the answers are what a document's `setup` holds."""

    code: str
    label: str
    choices: tuple[str, ...]


def _opening(code: str, label: str) -> SetupQuestion:
    return SetupQuestion(code=code, label=label, choices=("open", "closed", "none"))


def _machine(code: str, label: str) -> SetupQuestion:
    return SetupQuestion(code=code, label=label, choices=("off", "on", "none"))


SETUP_QUESTIONS = (
    _opening("interior_doors", "Inside doors"),
    _opening("exterior_doors", "Outside doors"),
    _opening("windows", "Windows"),
    _opening("attic_hatch", "Attic hatch"),
    _opening("basement_door", "Door to the basement"),
    _opening("crawlspace_hatch", "Hatch to the crawlspace"),
    _opening("garage_door", "Door to the garage"),
    _opening("fireplace_damper", "Fireplace damper"),
    _machine("exhaust_fans", "Exhaust fans and clothes dryer"),
    _machine("air_handler", "Air handler"),
)
"""Common practice, no source; the answers decide whether two tests may be compared."""
