"""Shipped rules into the database; rows a person has corrected stay as they are."""

from dataclasses import asdict
from typing import Any

from .shipped import shipped_rules


def load_shipped(rule_model: Any) -> int:
    """Add every shipped rule the table does not hold yet; how many were added.

    `rule_model` is `Rule`, or its historical twin inside a migration.
    """
    columns = {field.name for field in rule_model._meta.get_fields()}
    known = set(rule_model.objects.values_list("code", "effective_from"))
    new = [
        rule_model(**{name: value for name, value in asdict(rule).items() if name in columns})
        for rule in shipped_rules()
        if (rule.code, rule.effective_from) not in known
    ]
    rule_model.objects.bulk_create(new)
    return len(new)
