"""Addresses of the phone pages."""

from django.urls import URLPattern

app_name = "field"
urlpatterns: list[URLPattern] = []
