"""Refusals become answers here, once: AgencyError to 409, unreadable input to 400."""

from typing import Any

from django.db import OperationalError
from rest_framework import status
from rest_framework.exceptions import APIException, ValidationError
from rest_framework.response import Response
from rest_framework.views import exception_handler

from agency.errors import AgencyError, DocumentRefused


def answer(exc: Exception, context: dict[str, Any]) -> Response | None:
    """`{"errors": [{field, code, message, ...}]}` for everything that is not a bug."""
    if isinstance(exc, DocumentRefused):
        return _response(400, [reason.as_dict() for reason in exc.reasons])
    if isinstance(exc, AgencyError):
        return _response(status.HTTP_409_CONFLICT, [_reason("", "refused", str(exc))])
    if isinstance(exc, OperationalError):
        text = "The database does not answer. Keep the readings; send them again in a minute."
        return _response(503, [_reason("", "try_again", text)], {"Retry-After": "30"})
    response = exception_handler(exc, context)
    if response is None:
        return None
    if isinstance(exc, ValidationError):
        response.data = {"errors": _flatten(exc.detail)}
    elif isinstance(exc, APIException):
        code = getattr(exc.detail, "code", exc.default_code)
        response.data = {"errors": [_reason("", code, str(exc.detail))]}
    else:
        response.data = {"errors": [_reason("", "not_found", "There is nothing at this address.")]}
    return response


def _response(code: int, errors: list[dict[str, Any]], headers: Any = None) -> Response:
    return Response({"errors": errors}, status=code, headers=headers)


def _reason(field: str, code: str, message: str) -> dict[str, Any]:
    return {"field": field, "code": code, "message": message}


def _flatten(detail: Any, path: str = "") -> list[dict[str, Any]]:
    """DRF's nested errors as a flat list with dotted paths."""
    if isinstance(detail, dict):
        return [one for key, inner in detail.items() for one in _flatten(inner, f"{path}.{key}")]
    if isinstance(detail, list):
        return [
            one
            for number, inner in enumerate(detail)
            for one in _flatten(
                inner, path if not isinstance(inner, dict | list) else f"{path}[{number}]"
            )
        ]
    return [_reason(path.lstrip("."), getattr(detail, "code", "invalid"), str(detail))]
