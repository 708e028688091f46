"""Isolated readers in a copy of this process, which has their libraries already.

Starting the interpreter and loading a library anew takes a hundred times as long as reading a
small file. Tests of what a reader returns take this; tests of the process itself do not.
"""

import os
import signal
from types import TracebackType
from typing import Any, Self

from traces.core.readers import isolated


class ForkedReader:
    """What `subprocess.Popen` is to the isolated reader, forked off instead of started."""

    def __init__(self, command: list[str], **_options: Any) -> None:
        taken, given = os.pipe()
        self.pid = os.fork()
        if self.pid == 0:
            try:
                # the copy begins with the addresses of all that tests loaded
                isolated._MOST_MEMORY_BYTES *= 4
                os.dup2(given, 1)
                isolated._main(*command[command.index(isolated.__name__) + 1 :])
            finally:
                os._exit(1)
        os.close(given)
        self.stdout = os.fdopen(taken, "rb")

    def kill(self) -> None:
        os.kill(self.pid, signal.SIGKILL)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.stdout.close()
        os.waitpid(self.pid, 0)
