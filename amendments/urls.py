from django.urls import URLPattern

app_name = "amendments"
urlpatterns: list[URLPattern] = []
