from django.apps import AppConfig


class PlotsConfig(AppConfig):
    name = "plots"
    default_auto_field = "django.db.models.BigAutoField"
