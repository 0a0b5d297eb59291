"""Run the server: ``python -m server [--host HOST] [--port PORT]``.

It ends with 0 after Ctrl-C, with 2 when it was asked for something it cannot do (a wrong
setting, a port that is taken), and with 3 when the database cannot be used.
"""

import argparse
import gc
import logging
import socket
import sys
from collections.abc import Sequence
from dataclasses import replace

import uvicorn

from server.app import create_app
from server.case_report import report_lines
from server.casebook import read_casebook
from server.errors import BadSetting, StoreUnavailable
from server.settings import Settings
from server.store.migrate import upgrade

BAD_REQUEST = 2
NO_DATABASE = 3
GRACE_S = 5  # for requests still running when the server is told to end
BACKLOG = 2048

EVERYWHERE = {"0.0.0.0": "127.0.0.1", "::": "::1"}  # listening on all is no place to go to


class Server(uvicorn.Server):
    """A server that says where it is, once it can be reached there."""

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Start to answer, and print the address."""
        await super().startup(sockets)
        gc.collect()
        gc.freeze()  # code and cases stay for good; going through them held a press for 80 ms
        if self.started and sockets:
            print(
                f"Least Confusion is open at {address(sockets[0])}  (Ctrl-C closes it)", flush=True
            )


class WithoutQuery(logging.Filter):
    """Keep what was asked for out of the access log; the address alone is enough."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Cut the record's address at the question mark."""
        if isinstance(record.args, tuple) and len(record.args) > 2:
            client, method, path, *rest = record.args
            record.args = (client, method, str(path).partition("?")[0], *rest)
        return True


def main(words: Sequence[str] | None = None) -> int:
    """Run the command in `words` and return its exit code."""
    arguments = parse(list(sys.argv[1:] if words is None else words))
    try:
        settings = Settings.from_environment()
        if arguments.command == "cases":
            return cases(settings)
        return serve(settings, arguments)
    except BadSetting as fault:
        return fail(fault, BAD_REQUEST)
    except StoreUnavailable as fault:
        return fail(fault, NO_DATABASE)
    except KeyboardInterrupt:
        return 0


def parse(words: list[str]) -> argparse.Namespace:
    """Return the parsed command line; without a command it means `serve`."""
    if not words or (words[0].startswith("-") and words[0] not in {"-h", "--help"}):
        words = ["serve", *words]
    parser = argparse.ArgumentParser(prog="python -m server", description="Least Confusion")
    commands = parser.add_subparsers(dest="command", required=True)
    serving = commands.add_parser("serve", help="answer browsers (also without a command)")
    serving.add_argument("--host", help="address to listen on")
    serving.add_argument("--port", type=int, help="port to listen on; 0 takes any free one")
    serving.add_argument(
        "--access-log", action="store_true", help="print a line for each request, without its query"
    )
    commands.add_parser("cases", help="print what each case comes to; exit 1 on a fault")
    return parser.parse_args(words)


def cases(settings: Settings) -> int:
    """Print what each case comes to; return 1 if a file or a case has a fault."""
    faults = 0
    for line, is_fault in report_lines(read_casebook(settings.cases_folder)):
        print(line, flush=True)
        faults += is_fault
    print(f"{faults} fault{'' if faults == 1 else 's'}")
    return 1 if faults else 0


def serve(settings: Settings, arguments: argparse.Namespace) -> int:
    """Answer browsers until told to end."""
    if arguments.host is not None:
        settings = replace(settings, host=arguments.host)
    if arguments.port is not None:
        settings = replace(settings, port=arguments.port)
    set_up_logging(access_log=arguments.access_log)
    upgrade(settings)  # here too, so that a database out of reach is one clear line
    try:
        listener = listen(settings)
    except OSError as fault:
        return fail(
            f"cannot listen on {settings.host}:{settings.port}: {reason(fault)}", BAD_REQUEST
        )
    with listener:
        server = Server(
            uvicorn.Config(
                create_app(settings),
                log_config=None,
                access_log=arguments.access_log,
                server_header=False,
                timeout_graceful_shutdown=GRACE_S,
            )
        )
        server.run(sockets=[listener])
    return 0


def listen(settings: Settings) -> socket.socket:
    """Return a socket that listens, or raise OSError when the port is taken."""
    family, kind, _, _, place = socket.getaddrinfo(
        settings.host, settings.port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
    )[0]
    # The protocol is named because the event loop sends small answers at once only then.
    listener = socket.socket(family, kind, socket.IPPROTO_TCP)
    try:
        if sys.platform != "win32":  # there the option would share the port instead
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind(place)
        listener.listen(BACKLOG)
    except OSError:
        listener.close()
        raise
    return listener


def address(listener: socket.socket) -> str:
    """Return the address to type into a browser."""
    host, port = listener.getsockname()[:2]
    host = EVERYWHERE.get(host, host)
    return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"


def set_up_logging(*, access_log: bool) -> None:
    """Log our own notes, and of the libraries only warnings, to the terminal."""
    logging.basicConfig(level=logging.WARNING, format="%(levelname)s %(name)s: %(message)s")
    logging.getLogger("server").setLevel(logging.INFO)
    access = logging.getLogger("uvicorn.access")
    access.addFilter(WithoutQuery())
    if access_log:
        access.setLevel(logging.INFO)


def reason(fault: OSError) -> str:
    """Return the operating system's words for a fault."""
    return (fault.strerror or str(fault)).lower()


def fail(message: object, code: int) -> int:
    """Print why the command ends, and return its exit code."""
    print(f"Least Confusion: {message}", file=sys.stderr)
    return code


if __name__ == "__main__":
    sys.exit(main())
