"""Reading a request's body, whatever it holds."""

import json
import math
import re
from typing import IO, Any, NoReturn

from django.conf import settings
from django.utils.translation import gettext as _
from rest_framework.exceptions import ParseError
from rest_framework.parsers import BaseParser

from shopdiag.people.api.errors import TooLarge

_ESCAPED_SURROGATE = re.compile(r"\\u[dD][89a-fA-F]")


class JsonParser(BaseParser):
    """JSON as RFC 8259 has it: UTF-8, no NaN, not endlessly deep, not endlessly long."""

    media_type = "application/json"

    def parse(
        self,
        stream: IO[Any],
        media_type: str | None = None,  # noqa: ARG002 - DRF's signature
        parser_context: Any = None,  # noqa: ANN401, ARG002 - DRF's signature
    ) -> Any:  # noqa: ANN401 - any JSON value
        most = settings.DATA_UPLOAD_MAX_MEMORY_SIZE
        body = stream.read(most + 1)
        if len(body) > most:
            raise TooLarge
        try:
            text = body.decode("utf-8")
            value = json.loads(text, parse_constant=_refuse, parse_float=_finite)
            if _ESCAPED_SURROGATE.search(text):
                # Half a character can be written in JSON but neither stored nor sent back.
                json.dumps(value, ensure_ascii=False).encode()
        except UnicodeError:
            raise ParseError(_("This is not text in UTF-8; send JSON in UTF-8.")) from None
        except RecursionError:
            raise ParseError(_("This JSON is nested too deeply; send it flat.")) from None
        except ValueError as error:
            raise ParseError(_("This is not JSON: %(error)s.") % {"error": error}) from None
        return value


def _refuse(name: str) -> NoReturn:
    raise ValueError(_("%(name)s is not a number in JSON") % {"name": name})


def _finite(text: str) -> float:
    number = float(text)
    if math.isinf(number):
        raise ValueError(_("%(text)s is larger than any number here") % {"text": text[:20]})
    return number
