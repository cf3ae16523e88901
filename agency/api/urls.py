"""Addresses of the REST door, version 1."""

from django.urls import include, path
from drf_spectacular.views import SpectacularAPIView
from rest_framework.routers import SimpleRouter

from . import schema  # noqa: F401  registers the description of the token
from .bill_analyses import BillStudyViewSet, Realization
from .devices import Devices
from .field import Field
from .forms import Form, Forms
from .jobs import JobViewSet
from .measures import MeasuresEstimateViewSet, MeasureViewSet
from .photos import PhotoFile, Photos
from .reports import Quarter
from .safety_stops import SafetyStopViewSet
from .test_runs import Batches, TestRunViewSet
from .visit_reports import VisitReports

router = SimpleRouter()
router.register("bill-studies", BillStudyViewSet, basename="bill-study")
router.register("jobs", JobViewSet, basename="job")
router.register("measures", MeasureViewSet, basename="measure")
router.register("measures-estimates", MeasuresEstimateViewSet, basename="measures-estimate")
router.register("safety-stops", SafetyStopViewSet, basename="safety-stop")
router.register("test-runs", TestRunViewSet, basename="test-run")

app_name = "api"
urlpatterns = [
    path("", include(router.urls)),
    path("devices/", Devices.as_view(), name="devices"),
    path("field/", Field.as_view(), name="field"),
    path("forms/", Forms.as_view(), name="forms"),
    path("forms/<slug:kind>/", Form.as_view(), name="form"),
    path("batches/", Batches.as_view(), name="batches"),
    path("visit-reports/", VisitReports.as_view(), name="visit-reports"),
    path("photos/", Photos.as_view(), name="photos"),
    path("photos/<uuid:pk>/", PhotoFile.as_view(), name="photo"),
    path("reports/quarters/<str:quarter>/", Quarter.as_view(), name="quarter"),
    path("reports/realisations/<str:grant>/", Realization.as_view(), name="realization"),
    path("schema/", SpectacularAPIView.as_view(), name="schema"),
]
