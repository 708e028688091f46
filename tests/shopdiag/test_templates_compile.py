"""Every template compiles; one that no test happens to render fails at whoever opens its page."""

from pathlib import Path

import pytest
from django.conf import settings
from django.template.loader import get_template

_FOLDER = Path(settings.BASE_DIR) / "templates"
NAMES = sorted(str(path.relative_to(_FOLDER)) for path in _FOLDER.rglob("*") if path.is_file())


def test_there_are_templates_to_compile():
    assert len(NAMES) > 100


@pytest.mark.parametrize("name", NAMES)
def test_it_compiles(name):
    assert get_template(name)
