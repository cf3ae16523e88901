"""Small middleware of our own."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

Respond = Callable[[HttpRequest], HttpResponse]


def keep_out_of_caches(get_response: Respond) -> Respond:
    """Pages of a signed-in person hold personal data: no browser or proxy may keep them."""

    def middleware(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        user = getattr(request, "user", None)
        if user is not None and user.is_authenticated:
            response.setdefault("Cache-Control", "no-store")
        return response

    return middleware
