"""What a request asks for, read strictly: the desk it means, JSON in a body, fields of a job as plain values."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.websockets import WebSocket

from steadfold.page.desk import Desk
from steadfold.page.rooms import Rooms
from steadfold.page.shelf import NotHere

MOST_CHANGES = 60
LONGEST_VALUE = 400
DEEPEST = 4
"""Lists and tables within one another in a value: readings, each a table, with points, each a list."""


class BadRequest(ValueError):
    """A request that makes no sense; the sentence says what would."""


def said(status: int, sentence: str) -> Response:
    """A refusal in a sentence."""
    return JSONResponse({"say": sentence}, status)


def rooms_of(request: Request | WebSocket) -> Rooms:
    """Everything that is open on this page."""
    rooms: Rooms = request.app.state.rooms
    return rooms


async def desk_of(request: Request | WebSocket) -> Desk:
    """The desk of the job that the address names; `NotHere` when there is none."""
    return await rooms_of(request).desk(request.path_params["folder"], request.path_params["name"])


def drawn_of(request: Request, pictures: Mapping[str, str]) -> Response:
    """The picture of an answer that the address names; `NotHere` when there is none."""
    drawn = pictures.get(request.path_params["which"].removesuffix(".svg"))
    if drawn is None:
        raise NotHere(request.path_params["which"])
    return Response(drawn, media_type="image/svg+xml")


async def asked_of(request: Request) -> dict[str, Any]:
    """The JSON object in a body; `BadRequest` for anything else."""
    try:
        given = json.loads(await request.body())
    except (ValueError, RecursionError):
        raise BadRequest("this is not JSON") from None
    if not isinstance(given, dict):
        raise BadRequest("a JSON object is due here")
    return given


def text_in(given: Mapping[str, Any], key: str, longest: int = LONGEST_VALUE) -> str:
    """A text of a body, no longer than that; `BadRequest` otherwise."""
    value = given.get(key)
    if not isinstance(value, str) or len(value) > longest:
        raise BadRequest(f"{key} is due as a short text")
    return value


def plain_value(value: Any, deep: int = DEEPEST) -> Any:
    """A value that a job field may have: a short text, a number, a truth, nothing; or a short list or table of such, a
    few deep, like a list of readings with the points where the scale stood."""
    if value is None or isinstance(value, (bool, int)):
        return value
    if isinstance(value, float) and value == value and abs(value) < 1e300:
        return value
    if isinstance(value, str) and len(value) <= LONGEST_VALUE:
        return value
    if deep and isinstance(value, list) and len(value) <= 8:
        return [plain_value(each, deep - 1) for each in value]
    if deep and isinstance(value, dict) and len(value) <= 12 and all(isinstance(k, str) and len(k) < 60 for k in value):
        return {k: plain_value(v, deep - 1) for k, v in value.items()}
    raise BadRequest("a field of a job is a short text, a number, or a short list of them")


def changes_in(given: Any) -> list[tuple[list[str | int], Any]]:
    """Ways into the job file with the values to put there; `BadRequest` where they make no sense."""
    if not isinstance(given, list) or not 0 < len(given) <= MOST_CHANGES:
        raise BadRequest("changes are due as a list")
    found: list[tuple[list[str | int], Any]] = []
    for each in given:
        way = each.get("way") if isinstance(each, dict) else None
        if not isinstance(way, list) or not 0 < len(way) <= 8:
            raise BadRequest("each change needs a way")
        if not all((isinstance(s, str) and len(s) < 200) or (isinstance(s, int) and 0 <= s < 10_000) for s in way):
            raise BadRequest("a way is made of names and numbers")
        found.append((way, plain_value(each.get("value"))))
    return found


def level_of(request: Request) -> str:
    """How fine an answer is wanted; `BadRequest` for a word that is no level."""
    level = request.query_params.get("level", "full")
    if level not in ("shape", "quick", "full"):
        raise BadRequest("level is shape, quick or full")
    return level
