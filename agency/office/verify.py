"""Whether a certificate that somebody holds is valid, for anyone who has its check code."""

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string
from django.views.decorators.http import require_safe

from agency.certificates.models import Certificate

KEPT_FOR = "public, max-age=60"
"""A reissue shows within a minute; a proxy answers whoever asks again and again."""


@login_not_required
@require_safe
def verify(request: HttpRequest, code: str) -> HttpResponse:
    """Valid, replaced or unknown, with number and day; nothing of the home or its people."""
    certificate = Certificate.objects.with_code(code)
    # Without the request: the page is the same for everyone, and nobody's session is looked at.
    page = render_to_string("office/verify.html", {"certificate": certificate, "code": code[:20]})
    answer = HttpResponse(page, status=200 if certificate else 404)
    answer["Cache-Control"] = KEPT_FOR
    answer["X-Robots-Tag"] = "noindex"
    answer["Referrer-Policy"] = "no-referrer"
    return answer
