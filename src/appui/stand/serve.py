"""The stand started: on this machine alone, or for the devices of one's own network."""

from __future__ import annotations

import logging
import secrets
import socket
import webbrowser
from collections.abc import Callable
from dataclasses import dataclass
from threading import Timer

from appui.errors import UsageError
from appui.stand.app import application
from appui.stand.guard import Door
from appui.stand.holding import Stand
from appui.stand.shelf import Shelf

__all__ = ["Address", "addresses", "own_address", "serve", "square_code"]

_HERE = "127.0.0.1"


@dataclass(frozen=True)
class Address:
    """The two ways in: the player's own, and that of those it is shared with, empty where it is not."""

    own: str
    shared: str = ""


def serve(shelf: Shelf, port: int, share: str | None, say: Callable[[Address], None], *, opens: bool = True) -> None:
    """Serve until Ctrl-C; `share` is `None`, ``read`` or ``write``. Raises `UsageError` for a port that is taken."""
    import uvicorn

    host = "0.0.0.0" if share else _HERE  # noqa: S104 - asked for with --share
    bound = _bound(host, port)
    port = bound.getsockname()[1]
    outside = own_address() if share else ""
    hosts = {f"{_HERE}:{port}", f"localhost:{port}", *([f"{outside}:{port}"] if outside else [])}
    door = Door(
        port, frozenset(hosts), guests=secrets.token_urlsafe(16) if share else "", guests_write=share == "write"
    )
    found = addresses(door, outside)
    say(found)
    if opens:
        Timer(0.5, webbrowser.open, [found.own]).start()
    # what goes wrong in an answer the application tells itself; what is left is what was cut off by the end
    logging.getLogger("uvicorn.error").setLevel(logging.CRITICAL)
    config = uvicorn.Config(
        application(Stand(shelf), door),
        log_config=None,
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=2,
        limit_concurrency=200,
        ws="none",
    )
    try:
        uvicorn.Server(config).run(sockets=[bound])
    except KeyboardInterrupt:
        pass
    finally:
        bound.close()


def addresses(door: Door, outside: str = "") -> Address:
    """The addresses that let somebody in."""
    shared = f"http://{outside}:{door.port}/?key={door.guests}" if outside and door.guests else ""
    return Address(f"http://{_HERE}:{door.port}/?key={door.owner}", shared)


def square_code(text: str) -> str:
    """An address as a square code (QR, ISO/IEC 18004) made of letters, to be read from the terminal by a telephone."""
    import io

    import segno

    stream = io.StringIO()
    segno.make(text, error="m", micro=False).terminal(stream, compact=True, border=2)
    return stream.getvalue()


def own_address() -> str:
    """This machine's address in its own network, empty where it has none; nothing is sent."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # a datagram socket that is connected sends nothing; an address of documentation (RFC 5737, memory)
            probe.connect(("192.0.2.1", 9))
            found = str(probe.getsockname()[0])
        except OSError:
            return ""
    return "" if found.startswith("127.") or found == "0.0.0.0" else found  # noqa: S104 - compared, not bound


def _bound(host: str, port: int) -> socket.socket:
    bound = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        bound.bind((host, port))
        # whoever opens the address as soon as it is said waits until it is answered, and is not refused
        bound.listen()
    except OSError as error:
        bound.close()
        raise UsageError(f"port {port} cannot be used ({error.strerror or error}); name another with --port") from None
    return bound
