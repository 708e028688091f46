"""A folder as queue, without halves: what a reader finds there is always a whole file.

The packaged transport opens a message's file under its final name and writes it afterwards. A
worker that looks in between takes an empty message and ends.
"""

import contextlib
import os
from pathlib import Path
from time import monotonic
from typing import Any
from uuid import uuid4

from kombu.exceptions import ChannelError
from kombu.transport import filesystem
from kombu.utils.json import dumps


class Channel(filesystem.Channel):
    """Writes beside, then names."""

    # the two declarations it overrides differ from each other
    def _put(  # type: ignore[override]
        self, queue: str, payload: dict[str, Any], **_kwargs: object
    ) -> None:
        # readers go by the end of the name, and in the order of names
        name = f"{round(monotonic() * 1000)}_{uuid4()}.{queue}.msg"
        folder = Path(self.data_folder_out)
        part = folder / f"{name}.part"
        try:
            part.write_text(dumps(payload), encoding="utf-8")
            part.replace(folder / name)
        except OSError as error:
            raise ChannelError(f"Cannot add {name} to {folder}") from error

    def _queue_bind(
        self, exchange: str, routing_key: str | None, pattern: str | None, queue: str
    ) -> None:
        table = Path(self.control_folder) / f"{exchange}.exchange"
        if not table.exists():
            part = table.with_name(f"{uuid4()}.part")
            try:
                part.write_text("[]", encoding="utf-8")
                # not replaced: another process may have put its own queue into the table by now
                with contextlib.suppress(FileExistsError):
                    os.link(part, table)
                part.unlink()
            except OSError as error:
                raise ChannelError(f"Cannot write {table}") from error
        super()._queue_bind(exchange, routing_key or "", pattern, queue)


class Transport(filesystem.Transport):
    """The packaged transport with this channel."""

    Channel = Channel
