"""Addresses of the phone pages."""

from django.urls import path

from . import today

app_name = "field"
urlpatterns = [path("", today.today, name="today")]
