"""All a crew's phone needs for two days without a signal, in one answer."""

import gzip
from collections.abc import Iterable
from datetime import date, timedelta
from functools import lru_cache
from hashlib import sha256
from typing import Any

from django.http import HttpResponse
from django.utils import timezone
from django.utils.http import parse_etags
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.views import APIView

from agency.accounts.models import User
from agency.charts.drawing import NARROW
from agency.charts.hookup import HookupCard, draw_hookup
from agency.diagnostics.bridge.phone_stops import stop_rules
from agency.diagnostics.cautions import CAUTIONS
from agency.diagnostics.documents import KINDS
from agency.diagnostics.form_definitions import definition_of
from agency.diagnostics.house_setup import SETUP_QUESTIONS
from agency.diagnostics.visit_documents import NOT_POSSIBLE, NOT_SAFE
from agency.instruments.models import FanEquation, Instrument
from agency.people.models import CrewMember
from agency.rulebook.models import Rule

from .authentication import person
from .field_jobs import jobs_between
from .permissions import IsPairedPhone

SETTINGS = {
    "assumed_exponent": "setting.assumed-exponent",
    "humidity": "setting.humidity",
    "target_reduction": "setting.target-reduction",
}
"""What the phone's own arithmetic needs, by the rule that holds it; null where none does."""
DRAWN = 32
"""Hook-up cards kept drawn: all there are."""


class Field(APIView):
    """The crew's work of today and tomorrow."""

    permission_classes = (IsPairedPhone,)

    @extend_schema(responses={200: OpenApiTypes.OBJECT, 304: None})
    def get(self, request: Request) -> HttpResponse:
        """Jobs, instruments, forms and codes; 304 while the phone's copy is the newest."""
        today = timezone.localdate()
        package = _package(person(request), first=today, last=today + timedelta(days=1))
        version = sha256(JSONRenderer().render(package)).hexdigest()
        tag = f'"{version}"'
        # A proxy that compresses marks the tag as weak.
        known = parse_etags(request.headers.get("If-None-Match", ""))
        if tag in {one.removeprefix("W/") for one in known}:
            answer = HttpResponse(status=304)
        else:
            dated = {"version": version, "made_at": timezone.now().isoformat(), **package}
            answer = _packed(request, JSONRenderer().render(dated))
        answer["ETag"] = tag
        return answer


def _packed(request: Request, body: bytes) -> HttpResponse:
    """Compressed where the phone can read that: forms and drawings shrink to a tenth.

    Nothing of a browser's session is in it, so its length gives no secret away.
    """
    answer = HttpResponse(body, content_type="application/json")
    if "gzip" in request.headers.get("Accept-Encoding", ""):
        answer.content = gzip.compress(body, compresslevel=6, mtime=0)
        answer["Content-Encoding"] = "gzip"
    answer["Vary"] = "Accept-Encoding, Authorization"
    return answer


def _package(user: User, *, first: date, last: date) -> dict[str, Any]:
    rules = list(Rule.objects.effective_on(first))
    member = CrewMember.objects.filter(user=user).select_related("crew").first()
    return {
        "name": str(user),
        "crew": member.crew.name if member else None,
        "jobs": jobs_between(user, first=first, last=last),
        "instruments": _instruments(first),
        "forms": {kind: definition_of(kind, rules) for kind in KINDS},
        "arrival": [
            {"code": one.code, "look_for": one.look_for, "act": one.act, "weight": one.weight}
            for one in CAUTIONS
        ],
        "not_safe_codes": [{"code": one.code, "words": one.words} for one in NOT_SAFE],
        "not_possible_codes": [{"code": one.code, "words": one.words} for one in NOT_POSSIBLE],
        "setup_questions": [
            {"code": one.code, "label": one.label, "choices": list(one.choices)}
            for one in SETUP_QUESTIONS
        ],
        "settings": _settings(rules),
        "stop_rules": stop_rules(rules),
        "hookup_svgs": {
            kind: [_drawn(card) for card in one.form.hookups] for kind, one in KINDS.items()
        },
    }


def _settings(rules: Iterable[Rule]) -> dict[str, Any]:
    known = {rule.code: rule for rule in rules}
    usual = known.get("air.indoor-temperature")
    return {
        **{name: known[code].limit if code in known else None for name, code in SETTINGS.items()},
        "indoor_temperature": None if usual is None else {"low": usual.low, "high": usual.high},
    }


@lru_cache(maxsize=DRAWN)
def _drawn(card: HookupCard) -> str:
    return draw_hookup(card, width=NARROW)


def _instruments(day: date) -> list[dict[str, Any]]:
    known = Instrument.objects.prefetch_related("calibrations__equations")
    return [_instrument(one, day) for one in known]


def _instrument(instrument: Instrument, day: date) -> dict[str, Any]:
    calibration = instrument.calibration_on(day)
    return {
        "serial": instrument.serial,
        "kind": instrument.kind,
        "description": instrument.description,
        "state": instrument.state_on(day),
        "due_on": calibration.due_on if calibration else None,
        "equations": [_equation(one) for one in calibration.equations.all()] if calibration else [],
    }


def _equation(equation: FanEquation) -> dict[str, Any]:
    names = (
        "configuration",
        "direction",
        "coefficient",
        "exponent",
        "lowest_pressure",
        "highest_pressure",
        "flow_unit",
        "air_density",
    )
    return {name: getattr(equation, name) for name in names}
