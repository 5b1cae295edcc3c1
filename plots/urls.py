"""Addresses of properties, plots and settings."""

from __future__ import annotations

from django.urls import URLPattern, path

from plots.views.style import style

app_name = "plots"
urlpatterns: list[URLPattern] = [
    path("settings/style/", style, name="style"),
]
