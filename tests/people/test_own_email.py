"""Everybody says where they get e-mail, for themselves alone."""

import pytest
from django.urls import reverse

from shopdiag.people.models import User


@pytest.mark.parametrize(
    ("typed", "status", "kept"),
    [
        ("mika.new@shop.example", 302, "mika.new@shop.example"),
        ("", 302, ""),
        ("nothing", 422, "mika@shop.example"),
        ("a@x.example\nBcc: b@x.example", 422, "mika@shop.example"),
    ],
)
def test_everybody_says_their_own_address(cast, client_for, typed, status, kept):
    User.objects.filter(pk=cast.mechanic.user_id).update(email="mika@shop.example")
    answer = client_for(cast.mechanic).post(reverse("people:email"), {"email": typed})
    assert answer.status_code == status
    assert User.objects.get(pk=cast.mechanic.user_id).email == kept
    assert User.objects.get(pk=cast.diagnostician.user_id).email == ""
    if status == 422:
        assert answer.context["form"]["email"].value() == typed


@pytest.mark.parametrize("is_set_up", [True, False])
def test_the_menu_leads_there_where_e_mail_is_sent(settings, cast, client_for, is_set_up):
    settings.EMAIL_IS_SET_UP = is_set_up
    page = client_for(cast.mechanic).get(reverse("people:tokens")).content.decode()
    assert (f'href="{reverse("people:email")}"' in page) == is_set_up
