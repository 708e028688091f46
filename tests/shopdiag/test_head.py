"""HEAD is answered without a body, whatever the server in front does by itself."""

import pytest
from django.conf import settings
from django.http import HttpResponse, StreamingHttpResponse
from django.test import RequestFactory

from shopdiag.middleware import NoBodyMiddleware


def _page(_):
    return HttpResponse(b"a page", headers={"Content-Length": "6"})


def _file(_):
    return StreamingHttpResponse([b"a ", b"file"], headers={"Content-Length": "6"})


@pytest.mark.parametrize("view", [_page, _file])
def test_the_length_stays_and_the_body_goes(view):
    ask = NoBodyMiddleware(view)
    head, whole = ask(RequestFactory().head("/")), ask(RequestFactory().get("/"))
    assert b"".join(head) == b""
    assert len(b"".join(whole)) == 6
    assert head["Content-Length"] == whole["Content-Length"] == "6"


def test_a_method_in_a_header_changes_nothing_about_it():
    request = RequestFactory().post("/")
    request.method = "HEAD"
    assert b"".join(NoBodyMiddleware(_page)(request)) == b"a page"


def test_it_stands_outside_of_what_counts_lengths():
    assert settings.MIDDLEWARE[0] == "shopdiag.middleware.NoBodyMiddleware"
