from django.apps import AppConfig


class SoiltestsConfig(AppConfig):
    name = "soiltests"
    default_auto_field = "django.db.models.BigAutoField"
