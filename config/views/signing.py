"""Signing in and out, and changing one's password."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.contrib.auth import views
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


class SignIn(views.LoginView):
    """A refused name or password answers 422 with what was typed; a new session begins with every sign-in."""

    template_name = "registration/login.html"
    redirect_authenticated_user = True

    def form_invalid(self, form: Any) -> HttpResponse:
        response = super().form_invalid(form)
        response.status_code = 422
        return response


class ChangePassword(views.PasswordChangeView):
    """Ends the person's other sessions, since their hash of the password no longer fits."""

    template_name = "registration/password_change_form.html"
    success_url = "/"

    def form_invalid(self, form: Any) -> HttpResponse:
        response = super().form_invalid(form)
        response.status_code = 422
        return response


def locked_out(request: HttpRequest, response: HttpResponse | None = None, credentials: Any = None) -> HttpResponse:
    """Too many wrong passwords for one name from one address."""
    minutes = int(settings.AXES_COOLOFF_TIME.total_seconds() // 60)
    return render(request, "registration/locked_out.html", {"minutes": minutes}, status=429)
