"""Addresses of the review, prescriptions, records, orders and plans."""

from django.urls import URLPattern, path

from amendments.views import due, plot, records, review

app_name = "amendments"
urlpatterns: list[URLPattern] = [
    path("", review.review, name="review"),
    path("due/", due.due, name="due"),
    path("plots/<int:pk>/", plot.plot, name="plot"),
    path("plots/<int:pk>/spread/", records.record_one, name="record_one"),
    path("records/", records.records, name="records"),
    path("records/new/", records.record_many, name="record_many"),
    path("records/<int:pk>/correct/", records.correct, name="correct_record"),
    path("records/<int:pk>/void/", records.void, name="void_record"),
]
