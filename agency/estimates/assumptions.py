"""Figures nobody measured at a house: taken from the rule book and written down as such."""

from dataclasses import dataclass, field

from agency.estimates.inputs import Refusal
from agency.rulebook.shipped import MissingRule, RuleLike, RuleSet
from agency.wording import words

from .measures_inputs import Assumption


@dataclass(slots=True, kw_only=True)
class Gathered:
    """What was assumed and what is missing, while the inputs of one job are put together."""

    rules: RuleSet
    assumptions: list[Assumption] = field(default_factory=list)
    refusals: list[Refusal] = field(default_factory=list)

    def or_rule(self, value: float | None, name: str, code: str) -> float:
        """The house's own value, else the rule book's with a note of it."""
        return self.rule(name, code) if value is None else value

    def rule(self, name: str, code: str) -> float:
        """A number of the rule book, noted as an assumption."""
        rule = self.rules.get(code)
        if rule is None or rule.limit is None:
            raise MissingRule(code)
        self.assumptions.append(
            Assumption(
                name=name,
                value=_in_words(rule),
                source=f"Rule {code}: {rule.source}",
                provenance=rule.provenance,
            )
        )
        return rule.limit

    def derived(self, name: str, value: str, source: str) -> None:
        """A figure made from others of the house."""
        self.assumptions.append(
            Assumption(name=name, value=value, source=source, provenance="derived")
        )

    def missing(self, field_name: str, reason: str, next_step: str) -> None:
        """Something the estimate cannot do without."""
        self.refusals.append(
            Refusal(part="estimate", field=field_name, reason=reason, next_step=next_step)
        )

    def needed(self, value: object, field_name: str, told: tuple[str, str]) -> None:
        """Note as missing what is not there; `told` is the reason and the next step."""
        if value is None or value == "":
            self.missing(field_name, *told)


def _in_words(rule: RuleLike) -> str:
    value = rule.limit or 0.0
    if rule.unit == "degC":
        return words.temperature(value)
    if rule.unit == "K":
        return words.quantity(value * words.KELVIN_STEP, "°F")
    text = words.number(value, 0 if value == round(value) else 2)
    return text if rule.unit in {"", "-"} else f"{text} {rule.unit}"
