from django.apps import AppConfig


class ConfigConfig(AppConfig):
    name = "config"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from config import checks  # noqa: F401, PLC0415  (checks register themselves once the apps are loaded)
