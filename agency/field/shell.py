"""The phone's own pages: one public shell, its service worker and its manifest; no data in any."""

import hashlib
from collections.abc import Iterable
from functools import cache
from pathlib import Path

from django.contrib.auth.decorators import login_not_required
from django.contrib.staticfiles import finders
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.template.loader import get_template
from django.templatetags.static import static
from django.urls import reverse
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_safe

ALWAYS_ASK = cache_control(no_cache=True)
STYLES_AND_ICONS = (
    "css/tokens.css",
    "css/field-app.css",
    "icons/favicon.svg",
    "icons/ledger-180.png",
)
ICONS = (("192", "any"), ("512", "any"), ("512", "maskable"))
TEMPLATES = ("field/app.html", "field/sw.js")
INK = "#431D51"
PAPER = "#FBF8F3"


@login_not_required
@require_safe
@ALWAYS_ASK
def shell(request: HttpRequest) -> HttpResponse:
    """The page everything else is drawn in; the same for everybody."""
    return render(request, "field/app.html", {"version": version()})


@login_not_required
@require_safe
@ALWAYS_ASK
def worker(request: HttpRequest) -> HttpResponse:
    """The service worker with the list of what it keeps for starting without a signal."""
    kept = [reverse("field:shell"), reverse("field:manifest"), *map(static, assets())]
    context = {"version": version(), "kept": kept, "shell": reverse("field:shell")}
    return render(request, "field/sw.js", context, content_type="text/javascript; charset=utf-8")


@login_not_required
@require_safe
@ALWAYS_ASK
def manifest(request: HttpRequest) -> HttpResponse:
    """What a phone needs to put the page on its home screen."""
    icons = [
        {
            "src": static(f"icons/ledger-{'maskable-' if use == 'maskable' else ''}{size}.png"),
            "sizes": f"{size}x{size}",
            "type": "image/png",
            "purpose": use,
        }
        for size, use in ICONS
    ]
    home = reverse("field:shell")
    words = {
        "id": home,
        "name": "Hearthledger in the field",
        "short_name": "Hearthledger",
        "description": "Visits, tests and photos of a weatherization crew, without a signal.",
        "start_url": home,
        "scope": home,
        "display": "standalone",
        "lang": "en-US",
        "background_color": PAPER,
        "theme_color": INK,
        "icons": icons,
    }
    return JsonResponse(words, content_type="application/manifest+json")


@cache
def assets() -> tuple[str, ...]:
    """Names of every static file of a first load."""
    folder = finders.find("field")
    modules = sorted(one.name for one in Path(str(folder)).glob("*.js"))
    return (*STYLES_AND_ICONS, *(f"field/{name}" for name in modules))


@cache
def version() -> str:
    """Changes with any byte of the first load."""
    digest = hashlib.sha256()
    for content in _contents():
        digest.update(content)
    return digest.hexdigest()[:12]


def _contents() -> Iterable[bytes]:
    for name in assets():
        yield Path(str(finders.find(name))).read_bytes()
    for name in TEMPLATES:
        yield Path(str(get_template(name).origin.name)).read_bytes()  # type: ignore[attr-defined]
