"""Addresses of the review, prescriptions, records, orders and plans."""

from django.urls import URLPattern, path

from amendments.views import compare, due, label, materials, plot, records, review

app_name = "amendments"
urlpatterns: list[URLPattern] = [
    path("", review.review, name="review"),
    path("due/", due.due, name="due"),
    path("plots/<int:pk>/", plot.plot, name="plot"),
    path("plots/<int:pk>/spread/", records.record_one, name="record_one"),
    path("plan/materials/", compare.compare_materials, name="compare"),
    path("plan/label/", label.check_a_label, name="label_check"),
    path("materials/", materials.materials, name="materials"),
    path("materials/new/", materials.new_material, name="new_material"),
    path("materials/<int:pk>/change/", materials.change_material, name="change_material"),
    path("materials/<int:pk>/retire/", materials.retire, name="retire_material"),
    path("materials/<int:pk>/analysis/", materials.new_analysis, name="new_analysis"),
    path("materials/<int:pk>/offer/", materials.new_offer, name="new_offer"),
    path("materials/<int:pk>/stock/", materials.stock, name="stock"),
    path("offers/<int:pk>/change/", materials.change_offer, name="change_offer"),
    path("spreaders/new/", materials.new_spreader, name="new_spreader"),
    path("spreaders/<int:pk>/change/", materials.change_spreader, name="change_spreader"),
    path("records/", records.records, name="records"),
    path("records/new/", records.record_many, name="record_many"),
    path("records/<int:pk>/correct/", records.correct, name="correct_record"),
    path("records/<int:pk>/void/", records.void, name="void_record"),
]
