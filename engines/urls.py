from django.urls import path

from engines import views

app_name = "engines"

urlpatterns = [
    path("", views.engine_list, name="list"),
    path("new/", views.engine_new, name="new"),
    path("<int:pk>/", views.engine_detail, name="detail"),
    path("<int:pk>/edit/", views.engine_edit, name="edit"),
    path("<int:pk>/access/", views.engine_access, name="access"),
    path("<int:pk>/retire/", views.engine_retire, name="retire"),
]
