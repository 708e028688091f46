"""The fixed cast: the same people on every page's access tests."""

from collections.abc import Callable
from dataclasses import dataclass

import pytest
from django.test import Client

from shopdiag.people.core.roles import Role
from shopdiag.people.middleware import SHOP_KEY
from shopdiag.people.models import Member, Shop, User

PASSWORD = "bench-vise-1907"


@dataclass(frozen=True)
class Cast:
    """Two shops and everybody in them; each attribute but the shops is a membership."""

    shop: Shop
    other_shop: Shop
    owner: Member
    diagnostician: Member
    mechanic: Member
    writer: Member
    # A diagnostician of the other shop: may do the work, but not in this one.
    outsider: Member
    other_owner: Member
    # One person in both shops: writer in the first, mechanic in the second.
    both_here: Member
    both_there: Member

    @property
    def insiders(self) -> dict[Role, Member]:
        """One member of the first shop per role."""
        return {
            Role.OWNER: self.owner,
            Role.DIAGNOSTICIAN: self.diagnostician,
            Role.MECHANIC: self.mechanic,
            Role.WRITER: self.writer,
        }


def _person(username: str, name: str) -> User:
    user = User(username=username, name=name)
    user.set_password(PASSWORD)
    user.save()
    return user


def _member(shop: Shop, user: User, role: Role) -> Member:
    return Member.objects.create(shop=shop, user=user, role=role)


@pytest.fixture
def cast(db: None) -> Cast:
    shop = Shop.objects.create(name="Harbour Lane Garage")
    other = Shop.objects.create(name="Mill Road Motors")
    both = _person("both", "Bo Bothways")
    return Cast(
        shop=shop,
        other_shop=other,
        owner=_member(shop, _person("owner", "Olive Owner"), Role.OWNER),
        diagnostician=_member(shop, _person("diag", "Dana Diag"), Role.DIAGNOSTICIAN),
        mechanic=_member(shop, _person("mech", "Mika Mech"), Role.MECHANIC),
        writer=_member(shop, _person("writer", "Wren Writer"), Role.WRITER),
        outsider=_member(other, _person("outsider", "Otis Outside"), Role.DIAGNOSTICIAN),
        other_owner=_member(other, _person("otherowner", "Una Elsewhere"), Role.OWNER),
        both_here=_member(shop, both, Role.WRITER),
        both_there=_member(other, both, Role.MECHANIC),
    )


@pytest.fixture
def client_for(db: None) -> Callable[[Member], Client]:
    """Return a browser signed in as a member, working in that member's shop."""

    def sign_in(member: Member) -> Client:
        client = Client()
        client.force_login(member.user, backend="django.contrib.auth.backends.ModelBackend")
        session = client.session
        session[SHOP_KEY] = member.shop_id
        session.save()
        return client

    return sign_in
