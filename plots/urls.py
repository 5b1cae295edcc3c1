"""Addresses of properties, people, plots and plantings."""

from django.urls import URLPattern, path

from plots.views import lists, plantings, plots, settings, style

app_name = "plots"
urlpatterns: list[URLPattern] = [
    path("properties/", settings.choose_property, name="choose_property"),
    path("properties/new/", settings.new_property, name="new_property"),
    path("settings/", settings.settings, name="settings"),
    path("settings/style/", style.style, name="style"),
    path("settings/history/", lists.history, name="history"),
    path("settings/invite/", settings.new_invite, name="invite"),
    path("settings/people/<int:pk>/role/", settings.change_member, name="change_member"),
    path("settings/people/<int:pk>/remove/", settings.remove_member, name="remove_member"),
    path("settings/crops/new/", settings.new_crop, name="new_crop"),
    path("settings/crops/<int:pk>/", settings.change_crop, name="change_crop"),
    path("settings/places/new/", settings.edit_place, name="new_place"),
    path("settings/places/<int:pk>/", settings.edit_place, name="change_place"),
    path("join/<str:token>/", settings.join, name="join"),
    path("plots/new/", plots.new, name="new_plot"),
    path("plots/import/", lists.import_plots, name="import_plots"),
    path("plots/export/", lists.export_plots, name="export_plots"),
    path("plots/merge/", plots.merge, name="merge_plots"),
    path("plots/<int:pk>/change/", plots.change, name="change_plot"),
    path("plots/<int:pk>/retire/", plots.retire, name="retire_plot"),
    path("plots/<int:pk>/bring-back/", plots.bring_back, name="bring_back_plot"),
    path("plots/<int:pk>/split/", plots.split, name="split_plot"),
    path("plots/<int:pk>/history/", lists.plot_history, name="plot_history"),
    path("plots/<int:pk>/plantings/new/", plantings.new, name="new_planting"),
    path("plantings/<int:pk>/change/", plantings.change, name="change_planting"),
    path("plantings/<int:pk>/end/", plantings.end, name="end_planting"),
]
