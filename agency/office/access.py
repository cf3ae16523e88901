"""Who may open a desk page: a crew is told it does not exist, a colleague is told why not."""

from collections.abc import Callable
from functools import wraps
from typing import Any, TypeVar, cast

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponseBase

from agency.accounts.models import User

View = TypeVar("View", bound=Callable[..., HttpResponseBase])


class DeskRequest(HttpRequest):
    """A request of someone signed in who works at a desk."""

    user: User


def desk_only(view: View) -> View:
    """For everyone but crews."""

    @wraps(view)
    def guarded(request: DeskRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if not request.user.works_at_desk:
            raise Http404
        return view(request, *args, **kwargs)

    return cast(View, guarded)


def reviewers_only(view: View) -> View:
    """For those who accept test runs and keep the registers."""
    return _allowed(view, lambda user: user.may_review, "The office staff and managers do this.")


def privy_only(view: View) -> View:
    """For those who may see income, benefits and disability."""
    refusal = "The office staff and managers do this; it shows sensitive data of a household."
    return _allowed(view, lambda user: user.may_see_sensitive, refusal)


def inspectors_only(view: View) -> View:
    """For those who record a final inspection."""
    return _allowed(view, lambda user: user.may_inspect, "Only an inspector does this.")


def managers_only(view: View) -> View:
    """For those who approve jobs."""
    return _allowed(view, lambda user: user.may_approve, "Only a manager does this.")


def clearers_only(view: View) -> View:
    """For those who clear safety stops."""
    refusal = "Only an inspector or manager does this."
    return _allowed(view, lambda user: user.may_clear_stops, refusal)


def _allowed(view: View, may: Callable[[User], bool], refusal: str) -> View:
    @wraps(view)
    def guarded(request: DeskRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if not may(request.user):
            role = request.user.get_role_display().lower()
            raise PermissionDenied(f"{refusal} You are signed in as {request.user}, {role}.")
        return view(request, *args, **kwargs)

    return cast(View, desk_only(guarded))
