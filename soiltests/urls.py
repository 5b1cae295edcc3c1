"""Addresses of laboratories, reports, samples and soil tests."""

from django.urls import URLPattern, path

from soiltests.views import entry

app_name = "soiltests"
urlpatterns: list[URLPattern] = [
    path("tests/new/", entry.new_test, name="new_test"),
    path("tests/<int:pk>/change/", entry.change, name="change_test"),
    path("tests/samples/<int:pk>/fate/", entry.fate, name="fate"),
]
