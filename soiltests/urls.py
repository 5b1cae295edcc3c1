"""Addresses of laboratories, reports, samples and soil tests."""

from django.urls import URLPattern, path

from soiltests.views import entry, reports

app_name = "soiltests"
urlpatterns: list[URLPattern] = [
    path("tests/", reports.reports, name="reports"),
    path("tests/new/", entry.new_test, name="new_test"),
    path("tests/<int:pk>/change/", entry.change, name="change_test"),
    path("tests/samples/<int:pk>/fate/", entry.fate, name="fate"),
    path("tests/labs/new/", reports.edit_lab, name="new_lab"),
    path("tests/labs/<int:pk>/", reports.edit_lab, name="change_lab"),
    path("tests/import/", reports.upload, name="upload"),
    path("tests/reports/<int:pk>/", reports.report, name="report"),
    path("tests/reports/<int:pk>/columns/", reports.columns, name="columns"),
    path("tests/reports/<int:pk>/preview/", reports.show_preview, name="preview"),
    path("tests/reports/<int:pk>/accept/", reports.accept, name="accept"),
    path("tests/reports/<int:pk>/undo/", reports.undo, name="undo"),
    path("tests/reports/<int:pk>/original/", reports.original, name="original"),
]
