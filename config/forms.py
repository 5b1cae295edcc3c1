"""How forms are written on pages."""

from __future__ import annotations

from django.forms.renderers import TemplatesSetting


class ProjectRenderer(TemplatesSetting):
    """Django's fields by the project's own templates."""

    field_template_name = "form/field.html"
