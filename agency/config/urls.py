"""The three doors, under office/, field/ and api/."""

from django.contrib import admin
from django.urls import include, path
from django.views.generic import RedirectView

from agency.office.verify import verify

from .health import healthz

urlpatterns = [
    path("", RedirectView.as_view(pattern_name="office:today"), name="home"),
    path("healthz", healthz, name="healthz"),
    path("verify/<slug:code>", verify, name="verify"),
    path("office/", include("agency.office.urls")),
    path("field/", include("agency.field.urls")),
    path("api/v1/", include("agency.api.urls")),
    path("admin/", admin.site.urls),
]
