import pytest
from django.contrib import admin
from django.urls import reverse

from shopdiag.people.models import User

MODELS = [m for m in admin.site._registry if m._meta.app_label == "jobs"]


@pytest.fixture
def superuser(client, db):
    user = User.objects.create_superuser("root", "root@example.org", "bench-vise-1907", name="Root")
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    return client


@pytest.mark.parametrize("model", MODELS, ids=lambda m: m.__name__)
def test_the_administrator_looks_and_changes_nothing(superuser, visit, model):
    name = model._meta.model_name
    assert superuser.get(reverse(f"admin:jobs_{name}_changelist")).status_code == 200
    assert superuser.get(reverse(f"admin:jobs_{name}_add")).status_code == 403
    row = model._default_manager.first()
    if row is not None:
        page = reverse(f"admin:jobs_{name}_change", args=[row.pk])
        assert superuser.get(page).status_code == 200
        assert superuser.post(page, {}).status_code == 403
        gone = reverse(f"admin:jobs_{name}_delete", args=[row.pk])
        assert superuser.post(gone, {"post": "yes"}).status_code == 403
