"""All addresses. Each app keeps its own under its name."""

from __future__ import annotations

from django.contrib.auth import views as auth_views
from django.contrib.auth.decorators import login_not_required
from django.urls import include, path

from config.views.signing import ChangePassword, SignIn
from config.views.sources import sources

urlpatterns = [
    path("sign-in/", login_not_required(SignIn.as_view()), name="sign_in"),
    path("sign-out/", login_not_required(auth_views.LogoutView.as_view()), name="sign_out"),
    path("settings/password/", ChangePassword.as_view(), name="change_password"),
    path("sources/", sources, name="sources"),
    path("", include("plots.urls")),
    path("", include("soiltests.urls")),
    path("", include("amendments.urls")),
]
