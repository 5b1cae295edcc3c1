"""Every address of the program."""

from django.contrib.auth.views import LoginView, LogoutView
from django.urls import include, path

urlpatterns = [
    path("sign-in/", LoginView.as_view(template_name="registration/sign_in.html"), name="sign_in"),
    path("sign-out/", LogoutView.as_view(), name="sign_out"),
    path("", include("amendments.urls")),
    path("", include("plots.urls")),
    path("", include("soiltests.urls")),
]
