"""The page as the server runs it: the table of all addresses behind the gate."""

from __future__ import annotations

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route
from starlette.types import ASGIApp

from salvage.web import board, door, dropoff, outing, piece, shelf, trace
from salvage.web.doors import Way, endpoint
from salvage.web.gate import Gate
from salvage.web.house import House
from salvage.web.render import assets

WAYS: tuple[Way, ...] = (
    *shelf.WAYS,
    *board.WAYS,
    *piece.WAYS,
    *dropoff.WAYS,
    *trace.WAYS,
    *outing.WAYS,
    *door.WAYS,
)
"""Every address for those who were let in."""


def build_app(house: House) -> ASGIApp:
    """
    The page of one workshop.

    Args:
        house: What it takes from outside.
    """
    routes = [
        *(Route(way.address, endpoint(house, way), methods=[way.method]) for way in WAYS),
        Route("/static/{name}", _static),
        *door.open_routes(house),
    ]
    return Gate(Starlette(routes=routes), house)


async def _static(request: Request) -> Response:
    """One of the page's own files, by its exact name: no path is ever made of what was asked."""
    found = assets().get(request.path_params["name"])
    if found is None:
        return Response("no such file\n", status_code=404, media_type="text/plain")
    data, media_type = found
    headers = {"cache-control": "public, max-age=31536000, immutable"}
    return Response(data, media_type=media_type, headers=headers)
