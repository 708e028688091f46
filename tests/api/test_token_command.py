"""Tokens from the command line."""

import io

import pytest
from django.core.management import CommandError, call_command

from tests.api.conftest import program
from tests.conftest import Cast


def made(*args: str) -> str:
    out = io.StringIO()
    call_command("api_token", *args, stdout=out)
    return out.getvalue()


def test_it_prints_a_key_that_works_and_nothing_else(cast: Cast):
    key = made("diag")
    assert len(key.split()) == 1
    assert program(f"Token {key.strip()}").get("/api/visits/").status_code == 200


def test_people_of_several_shops_say_which(cast: Cast):
    with pytest.raises(CommandError, match=r"Harbour Lane Garage.*Mill Road Motors.*--shop"):
        made("both")
    key = made("both", "--shop", cast.other_shop.name, "--label", "bench").strip()
    # A mechanic there, and so nobody who takes vehicles in.
    assert program(f"Token {key}").post("/api/visits/", {}).status_code == 403


@pytest.mark.parametrize("args", [("nobody",), ("diag", "--shop", "Mill Road Motors")])
def test_a_name_that_is_none_is_told(cast: Cast, args: tuple[str, ...]):
    with pytest.raises(CommandError, match="Nobody signs in"):
        made(*args)


def test_whoever_left_gets_none(cast: Cast):
    cast.mechanic.active = False
    cast.mechanic.save()
    with pytest.raises(CommandError, match="Nobody signs in"):
        made("mech")


def test_a_label_that_is_too_long_is_told(cast: Cast):
    with pytest.raises(CommandError, match="80"):
        made("diag", "--label", "x" * 81)
