from django.apps import AppConfig


class AmendmentsConfig(AppConfig):
    name = "amendments"
    default_auto_field = "django.db.models.BigAutoField"
