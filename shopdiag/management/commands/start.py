"""Serve the whole thing on one machine: database, engine library, demo, web and worker."""

import errno
import signal
import socket
import sys
from argparse import ArgumentParser
from types import FrameType
from typing import Any

import waitress
from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError

from shopdiag.worker import WorkerKeeper
from shopdiag.wsgi import application

_DEMO_WITHIN_S = 240.0


class Command(BaseCommand):
    help = __doc__ or ""

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--no-demo",
            action="store_true",
            help="start without the demo shop; the first page creates shop and owner",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        _refuse_a_taken_port()
        self._say("Preparing the database …")
        call_command("migrate", verbosity=0, interactive=False)
        self._say("Loading the engine library …")
        call_command("load_engines", verbosity=0)
        # Set even where a shell started this with Ctrl-C switched off.
        signal.signal(signal.SIGINT, signal.default_int_handler)
        signal.signal(signal.SIGTERM, _leave)
        worker = WorkerKeeper()
        self._say("Starting the worker …")
        worker.start()
        try:
            if not options["no_demo"]:
                self._say("Loading the demo shop …")
                call_command("load_demo", wait=_DEMO_WITHIN_S, stdout=self.stdout)
            self._serve()
        except (KeyboardInterrupt, SystemExit):
            pass
        finally:
            self._say("\nStopping …")
            worker.stop()
            self._say("Stopped.")

    def _serve(self) -> None:
        server = waitress.create_server(
            application,
            host=settings.HOST,
            port=settings.PORT,
            threads=8,
            ident="shopdiag",
            max_request_body_size=(settings.CAPTURE_LIMIT_MB + 64) * 1_000_000,
            **_proxy(),
        )
        self._greet()
        server.run()

    def _greet(self) -> None:
        everywhere = settings.HOST in {"0.0.0.0", "::"}  # noqa: S104 - compared, not bound
        shown = "localhost" if everywhere or settings.HOST == "127.0.0.1" else settings.HOST
        self._say(f"\nOpen http://{shown}:{settings.PORT}/")
        if everywhere:
            others = [h for h in settings.ALLOWED_HOSTS if h not in {"localhost", "[::1]"}]
            self._say(
                "From tablets in the shop's network: "
                + ", ".join(f"http://{h}:{settings.PORT}/" for h in others if h != "127.0.0.1")
            )
            self._say("Passwords cross that network unencrypted; README says how to add HTTPS.")
            self._say("The demo's passwords are public: use --no-demo for a real shop.")
        self._say("Stop with Ctrl-C.\n")

    def _say(self, text: str) -> None:
        self.stdout.write(text)
        self.stdout.flush()


def _leave(_number: int, _frame: FrameType | None) -> None:
    raise SystemExit


def _proxy() -> dict[str, Any]:
    """Return whose word on the browser's address and HTTPS counts: a proxy's on this machine."""
    if not settings.HTTPS:
        return {}
    return {
        "trusted_proxy": "127.0.0.1",
        "trusted_proxy_count": max(settings.PROXY_COUNT, 1),
        "trusted_proxy_headers": {"x-forwarded-for", "x-forwarded-proto"},
    }


def _refuse_a_taken_port() -> None:
    family = socket.AF_INET6 if ":" in settings.HOST else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as probe:
        if sys.platform != "win32":
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((settings.HOST, settings.PORT))
        except OSError as error:
            if error.errno == errno.EADDRINUSE:
                raise CommandError(
                    f"Port {settings.PORT} is taken by another program; stop that one or start "
                    f"with another port: PORT={settings.PORT + 1} make run"
                ) from None
            raise CommandError(
                f"Cannot listen on {settings.HOST}:{settings.PORT} ({error.strerror}); "
                "set HOST to an address of this machine and PORT to a number from 1024 to 65535."
            ) from None
