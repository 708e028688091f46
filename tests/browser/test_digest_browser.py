"""The digests that the browser makes of a file and of its parts."""

import base64
import hashlib
from collections.abc import Callable

import pytest

from jobs.models import Visit
from tests.conftest import Cast

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


LENGTHS = (0, 1, 55, 56, 63, 64, 65, 1000, 1 << 20, (1 << 22) + 3)
DIGESTS = """async (length) => {
  const bytes = Uint8Array.from({ length }, (_, i) => (i * 31 + (i >> 8)) & 255);
  const hashing = document.querySelector("[data-hashing]").dataset.hashing;
  const { hasherFor } = await import("/static/js/upload_tools.js");
  const hasher = hasherFor(hashing, new File([bytes], "x"));
  const half = length >> 1;
  const last = await hasher.of(half, length);
  const first = await hasher.of(0, half, true);
  hasher.end();
  return [first.digest, last.digest, last.whole]; }"""


def test_the_workers_digest_is_sha256(signed_in_page: Callable, cast: Cast, visit: Visit):
    """FIPS 180-4: lengths around its 64-byte blocks; and what is fed late is fed in order."""
    page = signed_in_page(cast.diagnostician)[0]
    page.goto(f"/jobs/{visit.pk}/")
    pattern = bytes((i * 31 + (i >> 8)) & 255 for i in range(max(LENGTHS)))
    for length in LENGTHS:
        content, half = pattern[:length], length >> 1
        expected = [content[:half], content[half:], content]
        digests = [base64.b64encode(hashlib.sha256(part).digest()).decode() for part in expected]
        assert page.evaluate(DIGESTS, length) == digests, length
