"""Addresses of properties, people, plots and plantings."""

from django.urls import URLPattern, path

from plots.views import crops, history, lineage, lists, people, places, plantings, plots, settings, style

app_name = "plots"
urlpatterns: list[URLPattern] = [
    path("properties/", settings.choose_property, name="choose_property"),
    path("properties/new/", settings.new_property, name="new_property"),
    path("settings/", settings.settings, name="settings"),
    path("settings/style/", style.style, name="style"),
    path("settings/history/", history.history, name="history"),
    path("settings/people/", people.people, name="people"),
    path("settings/people/<int:pk>/role/", people.change_member, name="change_member"),
    path("settings/people/<int:pk>/remove/", people.remove_member, name="remove_member"),
    path("properties/<int:pk>/leave/", people.leave, name="leave"),
    path("settings/invite/", people.new_invite, name="invite"),
    path("settings/invite/<int:pk>/end/", people.end_invite, name="end_invite"),
    path("settings/crops/", crops.crops_page, name="crops"),
    path("settings/crops/new/", crops.new, name="new_crop"),
    path("settings/crops/targets/", settings.targets, name="targets"),
    path("settings/crops/<int:pk>/", crops.change, name="change_crop"),
    path("settings/crops/<int:pk>/remove/", crops.remove, name="remove_crop"),
    path("settings/places/", places.places, name="places"),
    path("settings/places/new/", places.new, name="new_place"),
    path("settings/places/<int:pk>/", places.change, name="change_place"),
    path("settings/places/<int:pk>/remove/", places.remove, name="remove_place"),
    path("join/<str:token>/", people.join, name="join"),
    path("plots/new/", plots.new, name="new_plot"),
    path("plots/import/", lists.import_plots, name="import_plots"),
    path("plots/import/<int:pk>/", lists.import_preview, name="import_preview"),
    path("plots/export/", lists.export_plots, name="export_plots"),
    path("plots/merge/", lineage.merge, name="merge_plots"),
    path("plots/retired/", plots.retired, name="retired_plots"),
    path("plots/<int:pk>/change/", plots.change, name="change_plot"),
    path("plots/<int:pk>/retire/", plots.retire, name="retire_plot"),
    path("plots/<int:pk>/bring-back/", plots.bring_back, name="bring_back_plot"),
    path("plots/<int:pk>/split/", lineage.split, name="split_plot"),
    path("plots/<int:pk>/history/", history.plot_history, name="plot_history"),
    path("plots/<int:pk>/plantings/new/", plantings.new, name="new_planting"),
    path("plantings/<int:pk>/change/", plantings.change, name="change_planting"),
    path("plantings/<int:pk>/end/", plantings.end, name="end_planting"),
]
