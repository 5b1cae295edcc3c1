from django.urls import URLPattern

app_name = "plots"
urlpatterns: list[URLPattern] = []
