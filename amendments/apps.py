from importlib import import_module

from django.apps import AppConfig


class AmendmentsConfig(AppConfig):
    name = "amendments"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Start listening. The module reads models, which are there only now."""
        import_module("amendments.listening")
