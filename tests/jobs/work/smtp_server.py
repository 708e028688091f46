"""A mail server on this machine that speaks enough of SMTP (RFC 5321) to be handed e-mails."""

import socketserver
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from email import message_from_bytes, policy
from email.message import EmailMessage


@dataclass
class Mailbox:
    """What the server got, and what it answers to a recipient."""

    port: int = 0
    to: list[str] = field(default_factory=list)
    letters: list[EmailMessage] = field(default_factory=list)
    to_recipients: bytes = b"250 ok"


class _Talk(socketserver.StreamRequestHandler):
    box: Mailbox

    def handle(self) -> None:
        self._say(b"220 here")
        while line := self.rfile.readline():
            word = line.split(b" ")[0].strip().upper()
            if word == b"RCPT":
                self.box.to.append(line.decode().split("<")[1].split(">")[0])
                self._say(self.box.to_recipients)
            elif word == b"DATA":
                self._say(b"354 go on")
                self._take()
            elif word == b"QUIT":
                self._say(b"221 bye")
                return
            else:
                self._say(b"250 ok")

    def _take(self) -> None:
        lines = []
        while (line := self.rfile.readline()) != b".\r\n":
            lines.append(line[1:] if line.startswith(b".") else line)
        parsed = message_from_bytes(b"".join(lines), policy=policy.default)
        assert isinstance(parsed, EmailMessage)
        self.box.letters.append(parsed)
        self._say(b"250 taken")

    def _say(self, words: bytes) -> None:
        self.wfile.write(words + b"\r\n")


@contextmanager
def mail_server() -> Iterator[Mailbox]:
    """Run one while the block lasts."""
    box = Mailbox()
    talk = type("Talk", (_Talk,), {"box": box})
    with socketserver.ThreadingTCPServer(("127.0.0.1", 0), talk) as server:
        box.port = server.server_address[1]
        thread = threading.Thread(target=server.serve_forever)
        thread.start()
        try:
            yield box
        finally:
            server.shutdown()
            thread.join()
