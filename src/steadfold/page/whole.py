"""What the page answers about a job as a whole: its money, its quotes, its order folder."""

from __future__ import annotations

import asyncio
import io
import zipfile

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from steadfold.page.asked import asked_of, desk_of, drawn_of, rooms_of, text_in
from steadfold.page.desk import Answered, Conflict
from steadfold.page.shelf import NotHere
from steadfold.page.workers import Task

LARGEST_QUOTES = 2_000_000


def _reckoned(request: Request) -> str:
    return "sheets" if request.query_params.get("sheets") == "1" else "money"


async def money(request: Request) -> Response:
    """What the job costs and what to charge, or (`?sheets=1`) its parts on sheets and what it costs then."""
    desk = await desk_of(request)
    await desk.glance()
    fingerprint, (told, _) = await desk.reckoned(_reckoned(request))
    kept = {"file": desk.quotes.file, "text": desk.quotes.text, "revision": desk.quotes.revision}
    pictures = sorted(told["pictures"])
    return JSONResponse({**told, "pictures": pictures, "quotes": kept, "fingerprint": fingerprint})


async def money_picture(request: Request) -> Response:
    """One of the pictures of `money`."""
    desk = await desk_of(request)
    _, (told, _) = await desk.reckoned(_reckoned(request))
    return drawn_of(request, told["pictures"])


async def quotes(request: Request) -> Response:
    """Keep quotes beside the job; 422 with sentences when they cannot be read, 409 when others were put there."""
    desk = await desk_of(request)
    asked = await asked_of(request)
    text = None if asked.get("text") is None else text_in(asked, "text", LARGEST_QUOTES)
    try:
        wrong = await desk.put_quotes(text, text_in(asked, "before", 64))
    except Conflict:
        return JSONResponse({"say": "the quotes were changed elsewhere meanwhile; look at them first"}, 409)
    if wrong:
        return JSONResponse({"say": wrong[0], "sentences": wrong[:20]}, 422)
    return JSONResponse({"file": desk.quotes.file, "money": desk.money})


def _file_in(archive: bytes, name: str) -> bytes:
    with zipfile.ZipFile(io.BytesIO(archive)) as opened:
        return opened.read(f"order/{name}")


async def _ordered(request: Request) -> Answered:
    """The order folder that a request means: with what is no pass or without, in mm or in inches."""
    desk = await desk_of(request)
    await desk.glance()
    asked = request.query_params
    return await desk.order(asked.get("even") == "1", "in" if asked.get("units") == "in" else "mm")


async def order(request: Request) -> Response:
    """What the order folder would hold, and what it leaves out."""
    told, _ = await _ordered(request)
    return JSONResponse({**told, "revision": (await desk_of(request)).revision})


async def order_archive(request: Request) -> Response:
    """The order folder as one archive."""
    told, packed = await _ordered(request)
    if not packed:
        raise NotHere("order")
    headers = {"content-disposition": f'attachment; filename="{told["name"]}"'}
    return Response(packed, media_type="application/zip", headers=headers)


async def order_file(request: Request) -> Response:
    """One file of the order folder, to look at first."""
    told, packed = await _ordered(request)
    name = request.path_params["file"]
    if name not in told["files"]:
        raise NotHere(name)
    content = await asyncio.to_thread(_file_in, packed, name)
    suffix = name.rsplit(".", 1)[-1]
    kind = LOOKED_AT.get(suffix)
    where = "inline" if kind else "attachment"
    plain_name = name.rsplit("/", 1)[-1]
    headers = {"content-disposition": f'{where}; filename="{plain_name}"'}
    return Response(content, media_type=kind or "application/octet-stream", headers=headers)


async def order_page(request: Request) -> Response:
    """A page of one of its files as a picture."""
    told, packed = await _ordered(request)
    name, page = request.path_params["file"], request.path_params["page"]
    if not 0 <= page < told["pages"].get(name, 0):
        raise NotHere(name)
    content = await asyncio.to_thread(_file_in, packed, name)
    task = Task("steadfold.page.paper", "picture", (name, content, page), 20.0)
    kind, drawn = await rooms_of(request).readers.do(task)
    return Response(drawn, media_type=kind)


LOOKED_AT = {
    "pdf": "application/pdf",
    "svg": "image/svg+xml",
    "csv": "text/plain; charset=utf-8",
    "json": "application/json",
    "md": "text/plain; charset=utf-8",
    "txt": "text/plain; charset=utf-8",
    "toml": "text/plain; charset=utf-8",
}
