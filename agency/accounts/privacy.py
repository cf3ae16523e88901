"""The one table of how private each stored field is, and who may be shown it.

P1 public or summed up; P2 work data; P3 personal, need-to-know; P4 sensitive. A field that is not
listed takes the class of its model, a model that is not listed the class of its app; an app that is
not listed is a mistake, and a test says so.
"""

from enum import IntEnum

from .models import User


class Privacy(IntEnum):
    """Classes of fields, the more private the higher."""

    P1 = 1
    P2 = 2
    P3 = 3
    P4 = 4


P1, P2, P3, P4 = Privacy

APPS = {
    "accounts": P3,
    "certificates": P3,
    "diagnostics": P2,
    "estimates": P2,
    "houses": P2,
    "instruments": P2,
    "intake": P4,
    "jobs": P2,
    "letters": P3,
    "outbox": P2,
    "people": P3,
    "programs": P1,
    "reports": P2,
    "retention": P2,
    "rulebook": P1,
}
MODELS = {
    "people.household": P4,
    "people.crew": P2,
    "estimates.utilityaccount": P3,
    "estimates.billfile": P3,
    "estimates.bill": P3,
    "estimates.billanalysis": P3,
    "houses.ownerpermission": P3,
    "intake.application": P3,
    "diagnostics.photo": P3,
    "jobs.visit": P3,
}
FIELDS = {
    "houses.house.address": P3,
    "houses.house.unit": P3,
    "houses.house.parcel": P3,
    "houses.earlierwork.address": P3,
    "houses.earlierwork.unit": P3,
    "houses.building.address": P3,
    "intake.application.income_method": P4,
    "intake.application.emergency_reason": P4,
    "intake.application.disaster_reason": P4,
    "intake.application.no_utility_release_reason": P4,
    "intake.application.score": P4,
    "jobs.job.client": P3,
    "people.client.legal_hold": P4,
}
NAMED = {
    "people.client.name",
    "people.client.phone",
    "people.client.language",
    "houses.house.address",
    "houses.house.unit",
    "jobs.visit.note",
}
"""Personal fields a crew needs at the door; of P3 it is shown nothing else."""


def privacy_of(label: str) -> Privacy:
    """The class of "app.model.field"; an app nobody has classified is refused."""
    app, model, _ = label.split(".")
    model_class = MODELS.get(f"{app}.{model}", APPS.get(app))
    if model_class is None:
        raise LookupError(f"No privacy class is set for the app {app}. Enter it in APPS.")
    return FIELDS.get(label, model_class)


def may_see(user: User, label: str) -> bool:
    """Whether this role is ever shown the field."""
    level = privacy_of(label)
    if level == P4:
        return user.may_see_sensitive
    if level == P3:
        return user.works_at_desk or label in NAMED
    return True
