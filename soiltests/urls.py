from django.urls import URLPattern

app_name = "soiltests"
urlpatterns: list[URLPattern] = []
