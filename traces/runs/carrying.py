"""Carrying one piece of work from claim to settlement, and telling the kinds of trouble apart."""

import errno
import logging
from collections.abc import Callable
from typing import Any, TypeVar
from uuid import UUID

from billiard.exceptions import SoftTimeLimitExceeded
from django.db import (
    DataError,
    IntegrityError,
    InterfaceError,
    OperationalError,
    transaction,
)
from django.utils.translation import gettext_noop

from engines.core.firing import FiringOrderError
from traces.core.readers import ReadError
from traces.core.setup import SetupError
from traces.models import Work
from traces.runs.claims import claim, fail, finish, heartbeat

logger = logging.getLogger(__name__)

# Kept in English, and translated where they are read.
OUR_FAULT = gettext_noop(
    "This could not be finished; the fault is in this program, not in the file. "
    "Try again, and if it fails again show the log to whoever keeps this installation."
)
NO_ROOM = gettext_noop(
    "The server's disk is full, so this could not be finished; tell whoever looks after it to "
    "make room, then try again."
)
TOO_LONG = gettext_noop(
    "This took too long and was stopped; save a shorter stretch of the recording."
)

_Work = TypeVar("_Work", bound=Work)


def carry_out(
    model: type[_Work],
    pk: int,
    do: Callable[[_Work, UUID], dict[str, Any]],
    *,
    then: Callable[[int], None] | None = None,
) -> UUID | None:
    """Claim a row, do its work, and settle it with the columns that `do` returns.

    What `then` does with the row's number is written together with them, or not at all.

    Trouble the user can mend (an unreadable file, a set-up that contradicts itself) settles
    the row as failed with its sentence. A bug settles it with a sentence of ours and goes to
    the log. A database that does not answer settles nothing: the row is swept up later.

    Returns
    -------
    UUID | None
        The token under which the row was settled as done; None when nothing was done, it
        failed, or somebody else took over meanwhile.
    """
    token = claim(model, pk)
    if token is None:
        return None
    try:
        with heartbeat(model, pk, token):
            row = model._default_manager.get(pk=pk)  # noqa: SLF001
            columns = do(row, token)
    except (ReadError, SetupError, FiringOrderError) as error:
        fail(model, pk, token, error=str(error))
    except SoftTimeLimitExceeded:
        fail(model, pk, token, error=TOO_LONG)
    except (OperationalError, InterfaceError):
        raise
    except Exception as error:
        logger.exception("%s %s failed", model.__name__, pk)
        full = isinstance(error, OSError) and error.errno in {errno.ENOSPC, errno.EDQUOT}
        fail(model, pk, token, error=NO_ROOM if full else OUR_FAULT)
    else:
        return token if _finished(model, pk, token, columns, then) else None
    return None


def _finished(
    model: type[_Work],
    pk: int,
    token: UUID,
    columns: dict[str, Any],
    then: Callable[[int], None] | None,
) -> bool:
    try:
        with transaction.atomic():
            done = finish(model, pk, token, **columns)
            if done and then:
                then(pk)
            return done
    except (DataError, IntegrityError):
        # Columns that the database refuses would be refused at every further attempt too.
        logger.exception("%s %s brought what cannot be stored", model.__name__, pk)
        fail(model, pk, token, error=OUR_FAULT)
        return False
