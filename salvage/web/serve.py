"""Listening: on this computer only, or beside it on the one address that phones reach."""

from __future__ import annotations

import socket
from collections.abc import Sequence
from pathlib import Path

from salvage.errors import StoreTrouble
from salvage.web.app import build_app
from salvage.web.house import LOOPBACK, House

# RFC 5737: an address for documentation, to which no way leads. Nothing is sent: the system only
# says from which of its own addresses it would.
_NOWHERE = ("192.0.2.1", 9)

_QUEUE = 64


def listen(address: str, port: int) -> socket.socket:
    """
    A socket that listens.

    Args:
        address: One of this computer's own.
        port: Its number; 0 for any that is free.

    Raises:
        StoreTrouble: If it cannot be had.
    """
    # Named as TCP, or asyncio leaves Nagle's algorithm on and each answer waits 40 ms (measured).
    ears = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    ears.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        ears.bind((address, port))
        ears.listen(_QUEUE)
    except OSError as error:
        ears.close()
        raise StoreTrouble(
            f"{address}, port {port}, cannot be listened at: {error.strerror}",
            hint="is the page open already? else name another with --port",
        ) from error
    return ears


def own_address() -> str:
    """
    This computer's address in the network that it would send to.

    Raises:
        StoreTrouble: If it is in no network.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(_NOWHERE)
            address = str(probe.getsockname()[0])
        except OSError:
            address = LOOPBACK
    if address.startswith("127."):
        raise StoreTrouble(
            "this computer is in no network that a phone could reach",
            hint="join one, or leave --lan out",
        )
    return address


def serve(
    house: House, ears: Sequence[socket.socket], *, certificate: tuple[Path, Path] | None = None
) -> None:
    """
    Answer until Ctrl-C.

    Args:
        house: The page.
        ears: Sockets that listen.
        certificate: Files of a certificate and its key, for https.
    """
    import uvicorn

    files = {}
    if certificate:
        files = {"ssl_certfile": str(certificate[0]), "ssl_keyfile": str(certificate[1])}
    config = uvicorn.Config(
        build_app(house),
        http="h11",
        ws="none",
        loop="asyncio",
        lifespan="off",
        log_level="warning",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        limit_concurrency=200,
        timeout_keep_alive=15,
        timeout_graceful_shutdown=2,
        **files,  # type: ignore[arg-type]
    )
    uvicorn.Server(config).run(sockets=list(ears))
