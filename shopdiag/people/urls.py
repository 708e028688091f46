from django.urls import path

app_name = "people"
urlpatterns = []
