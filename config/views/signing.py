"""Signing in and out, and changing one's password."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import views
from django.contrib.auth.forms import AuthenticationForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


class SignInForm(AuthenticationForm):
    """Name and password."""

    error_messages = {
        "invalid_login": "This name and this password do not belong together. Capital and small letters count.",
        "inactive": "This account has been closed.",
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["username"].label = "Name"


class SignIn(views.LoginView):
    """A refused name or password answers 422 with the name kept; a new session begins with every sign-in."""

    template_name = "registration/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def form_invalid(self, form: Any) -> HttpResponse:
        response = super().form_invalid(form)
        response.status_code = 422
        return response


class ChangePassword(views.PasswordChangeView):
    """Ends the person's other sessions, since they were opened with the old password."""

    template_name = "registration/change_password.html"
    success_url = "/"

    def form_valid(self, form: Any) -> HttpResponse:
        messages.success(self.request, "Your password is changed.")
        return super().form_valid(form)

    def form_invalid(self, form: Any) -> HttpResponse:
        response = super().form_invalid(form)
        response.status_code = 422
        return response


def locked_out(request: HttpRequest, response: HttpResponse | None = None, credentials: Any = None) -> HttpResponse:
    """Too many wrong passwords for one name from one address."""
    minutes = int(settings.AXES_COOLOFF_TIME.total_seconds() // 60)
    return render(request, "registration/locked_out.html", {"minutes": minutes}, status=429)
