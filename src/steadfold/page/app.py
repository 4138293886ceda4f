"""What the page answers: its own files, the jobs, their answers and pictures, and notices over a WebSocket."""

from __future__ import annotations

import asyncio
import io
import json
import re
import zipfile
from collections.abc import AsyncIterator, Callable, Mapping
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any
from urllib.parse import quote

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route, WebSocketRoute
from starlette.websockets import WebSocket, WebSocketDisconnect

from steadfold.page import beginning
from steadfold.page.desk import CannotSave, Conflict, Desk
from steadfold.page.guards import GUARDS, App, Guard, guarded, sealed
from steadfold.page.house import House
from steadfold.page.rooms import Rooms
from steadfold.page.shelf import CAD_NAME, NAME, NotHere, Shelf, folder_id, inside
from steadfold.page.workers import Failed, Stale, Task, TooLong

STATIC = Path(__file__).parent / "static"
KINDS = {".html": "text/html", ".js": "text/javascript", ".css": "text/css", ".svg": "image/svg+xml"}
JOB_ADDRESS = re.compile(r"[0-9a-f]{10}/[^/\\\x00-\x1f]{1,125}")
MOST_CHANGES = 60
LONGEST_VALUE = 400


class BadRequest(ValueError):
    """A request that makes no sense; the sentence says what would."""


def static_files() -> dict[str, tuple[bytes, str]]:
    """Every file the page is made of, by its address; nothing else is ever read from the disk for it."""
    found = {}
    for path in sorted(STATIC.rglob("*")):
        if path.is_file() and path.suffix in KINDS:
            found[path.relative_to(STATIC).as_posix()] = (path.read_bytes(), f"{KINDS[path.suffix]}; charset=utf-8")
    return found


def page(
    house: House, shelf: Shelf, guards: Mapping[str, Guard] = GUARDS, bodies: bool = True, warm: bool = True
) -> App:
    """The whole page behind its guards, as an ASGI application; `warm` starts its workers at once."""
    files = static_files()
    index = files["index.html"][0].decode("utf-8")

    @asynccontextmanager
    async def life(app: Starlette) -> AsyncIterator[None]:
        app.state.rooms = Rooms(shelf, warm)
        yield
        await app.state.rooms.end()

    async def shell(request: Request) -> Response:
        if request.url.path == "/" and "key" in request.query_params:
            where = request.query_params.get("job", "")
            # Only a job's address: never another place.
            onward = f"/job/{quote(where)}" if JOB_ADDRESS.fullmatch(where) else "/"
            response: Response = RedirectResponse(onward, 303)
            response.set_cookie(house.cookie, house.key, httponly=True, samesite="strict", path="/")
            return response
        return Response(files["index.html"][0], media_type="text/html")

    async def file(request: Request) -> Response:
        found = files.get(request.path_params["name"])
        if found is None:
            raise NotHere(request.path_params["name"])
        return Response(found[0], headers={"content-type": found[1]})

    job = "/api/jobs/{folder}/{name}"
    routes = [
        Route("/", shell),
        Route("/job/{folder}/{name}", shell),
        Route("/static/{name:path}", file),
        Route("/api/start", start),
        Route("/api/scale", scale),
        Route("/api/shape/{name}", shape_picture),
        Route("/api/new", new, methods=["POST"]),
        Route("/api/drop", drop, methods=["POST"]),
        Route("/api/example", example, methods=["POST"]),
        Route(job, state),
        Route(f"{job}/edit", edit, methods=["POST"]),
        Route(f"{job}/step", step, methods=["POST"]),
        Route(f"{job}/part/{{number:int}}/answer", answer),
        Route(f"{job}/part/{{number:int}}/scene", scene),
        Route(f"{job}/part/{{number:int}}/file/{{kind}}", part_file),
        Route(f"{job}/part/{{number:int}}/{{what:str}}", further),
        Route(f"{job}/stand/{{number:int}}", stand),
        Route(f"{job}/stand/{{number:int}}/picture/{{which}}", stand_picture),
        Route(f"{job}/money", money),
        Route(f"{job}/money/picture/{{which}}", money_picture),
        Route(f"{job}/quotes", quotes, methods=["POST"]),
        Route(f"{job}/order", order),
        Route(f"{job}/order/archive", order_archive),
        Route(f"{job}/order/file/{{file:path}}", order_file),
        Route(f"{job}/order/page/{{page:int}}/{{file:path}}", order_page),
        WebSocketRoute("/notices/{folder}/{name}", notices),
    ]
    handlers: Mapping[Any, Callable[[Request, Any], Any]] = {
        NotHere: lambda request, error: _said(404, "there is no such thing here"),
        LookupError: lambda request, error: _said(404, "there is no such thing here"),
        BadRequest: lambda request, error: _said(400, str(error)),
        Failed: _failed,
        # Not a fault: the one who asked is told of the newer version anyway.
        Stale: lambda request, error: Response(status_code=204),
        TooLong: lambda request, error: _said(422, f"this {error}, which is longer than it may"),
        CannotSave: lambda request, error: _said(507, str(error)),
        Exception: lambda request, error: _said(500, "the page stumbled over a fault of its own"),
    }
    app = Starlette(routes=routes, lifespan=life, exception_handlers=handlers)
    app.state.house = house
    return sealed(guarded(app, house, guards, bodies), index)  # type: ignore[arg-type]


def _said(status: int, sentence: str) -> Response:
    return JSONResponse({"say": sentence}, status)


async def _failed(request: Request, error: Failed) -> Response:
    return JSONResponse({"say": error.sentence, "problems": list(error.problems)}, 422)


def _rooms(request: Request | WebSocket) -> Rooms:
    rooms: Rooms = request.app.state.rooms
    return rooms


async def _desk(request: Request | WebSocket) -> Desk:
    return await _rooms(request).desk(request.path_params["folder"], request.path_params["name"])


async def _asked(request: Request) -> dict[str, Any]:
    try:
        given = json.loads(await request.body())
    except (ValueError, RecursionError):
        raise BadRequest("this is not JSON") from None
    if not isinstance(given, dict):
        raise BadRequest("a JSON object is due here")
    return given


def _text(given: Mapping[str, Any], key: str, longest: int = LONGEST_VALUE) -> str:
    value = given.get(key)
    if not isinstance(value, str) or len(value) > longest:
        raise BadRequest(f"{key} is due as a short text")
    return value


async def start(request: Request) -> Response:
    """What the start shows: the folder's jobs, recent ones, the shapes to begin with."""
    rooms = _rooms(request)
    shelf = rooms.shelf
    shapes = await rooms.readers.do(Task("steadfold.page.beginning", "shapes", ()))
    choices = await rooms.readers.do(Task("steadfold.page.beginning", "choices", ()))
    here = folder_id(shelf.folder)
    jobs = [{"folder": here, "name": name, "changed": changed} for name, changed in shelf.jobs()]
    recent = [
        {"folder": folder_id(r.folder), "name": r.name, "where": r.folder.name, "opened": r.opened}
        for r in shelf.recent()
    ]
    return JSONResponse(
        {"folder": shelf.folder.name, "jobs": jobs, "recent": recent, "shapes": shapes, "choices": choices}
    )


async def scale(request: Request) -> Response:
    """The colours of how hard the metal works, 256 from 0 to 1, the same as in the printed pictures."""
    import numpy as np

    from steadfold.deliver.colour_scale import scale_colours

    colours = np.round(255 * scale_colours(np.linspace(0.0, 1.0, 256))).astype(int)
    return JSONResponse({"colours": colours.tolist()})


async def shape_picture(request: Request) -> Response:
    """A picture of a ready-made shape."""
    name = request.path_params["name"].removesuffix(".svg")
    made = await _rooms(request).readers.do(Task("steadfold.page.shape_pictures", "picture", (name,)))
    return Response(made, media_type="image/svg+xml")


async def new(request: Request) -> Response:
    """A new job from a shape and a few words."""
    asked = await _asked(request)
    name = _text(asked, "name", 80).strip() or _text(asked, "shape")
    sizes = asked.get("sizes", {})
    if not isinstance(sizes, dict) or len(sizes) > MOST_CHANGES:
        raise BadRequest("sizes are due as an object")
    for key, value in sizes.items():
        _plain_value(key), _plain_value(value)
    words = {
        key: asked[key]
        for key in ("shape", "material", "thickness", "item", "to", "fastener", "reach")
        if asked.get(key)
    }
    for key in words:
        _text(asked, key)
    numbers = {key: _plain_value(asked[key]) for key in ("mass", "count") if asked.get(key)}
    wish = {**words, **numbers, "name": name, "sizes": sizes}
    text = await _rooms(request).readers.do(Task("steadfold.page.beginning", "begun", (wish,), 20.0))
    return await _placed(request, name, text)


async def example(request: Request) -> Response:
    """The boat-shed job, copied into the folder."""
    await _asked(request)
    return await _placed(request, "boat shed", await asyncio.to_thread(beginning.example_text))


async def drop(request: Request) -> Response:
    """A job, STEP or DXF file dropped on the page; nothing that is there is overwritten."""
    asked = await _asked(request)
    name, data = _text(asked, "name", 200), asked.get("data")
    if not isinstance(data, str):
        raise BadRequest("data is due as base64")
    try:
        content = await asyncio.to_thread(beginning.decoded, data)
    except ValueError as error:
        raise BadRequest(str(error)) from None
    rooms = _rooms(request)
    stem = name.rsplit(".", 1)[0]
    if name.lower().endswith(".toml"):
        text = await rooms.readers.do(Task("steadfold.page.beginning", "dropped_job", (content,), 20.0))
        return await _placed(request, stem, text)
    if CAD_NAME.fullmatch(name) is None:
        raise BadRequest("a job (.toml), STEP or DXF file is due, with a plain name")
    if len(content) > beginning.LARGEST_CAD:
        return _said(413, "a drawing of more than 50 MB is not read")
    suffix = "." + name.rsplit(".", 1)[1].lower()
    path = await asyncio.to_thread(_kept, rooms.shelf, stem, suffix, content)
    where = str(path.with_suffix(".toml"))
    try:
        text = await rooms.readers.do(Task("steadfold.page.beginning", "job_for_drawing", (path.name, where), 20.0))
    except (Failed, TooLong):
        await asyncio.to_thread(path.unlink)
        raise
    return await _placed(request, stem, text)


def _kept(shelf: Shelf, stem: str, suffix: str, content: bytes) -> Path:
    """The dropped file in the folder, under a free name."""
    from steadfold.deliver.writing import write_aside

    shelf.folder.mkdir(parents=True, exist_ok=True)
    path = inside(shelf.folder, shelf.free_name(stem, suffix), CAD_NAME)
    write_aside(path, content)
    return path


async def _placed(request: Request, name: str, text: str) -> Response:
    rooms = _rooms(request)

    def place() -> Path:
        from steadfold.job.writer import write_job

        rooms.shelf.folder.mkdir(parents=True, exist_ok=True)
        path = inside(rooms.shelf.folder, rooms.shelf.free_name(name), NAME)
        write_job(path, text)
        return path

    try:
        path = await asyncio.to_thread(place)
    except OSError as error:
        raise CannotSave(f"the folder takes no new job: {error.strerror or error}") from None
    return JSONResponse(rooms.address(path), 201)


async def state(request: Request) -> Response:
    """A job as it lies on the disk now."""
    desk = await _desk(request)
    await desk.glance()
    await asyncio.to_thread(_rooms(request).shelf.opened, desk.path)
    return JSONResponse(desk.state())


def _plain_value(value: Any) -> Any:
    """A value that a job field may have: a short text, a number, a truth, nothing, or a short list of those."""
    if value is None or isinstance(value, (bool, int)):
        return value
    if isinstance(value, float) and value == value and abs(value) < 1e300:
        return value
    if isinstance(value, str) and len(value) <= LONGEST_VALUE:
        return value
    if isinstance(value, list) and len(value) <= 8:
        return [_plain_value(each) for each in value if not isinstance(each, (list, dict))]
    if isinstance(value, dict) and len(value) <= 12 and all(isinstance(k, str) and len(k) < 60 for k in value):
        return {k: _plain_value(v) for k, v in value.items() if not isinstance(v, dict)}
    raise BadRequest("a field of a job is a short text, a number, or a short list of them")


def _changes(given: Any) -> list[tuple[list[str | int], Any]]:
    if not isinstance(given, list) or not 0 < len(given) <= MOST_CHANGES:
        raise BadRequest("changes are due as a list")
    found: list[tuple[list[str | int], Any]] = []
    for each in given:
        way = each.get("way") if isinstance(each, dict) else None
        if not isinstance(way, list) or not 0 < len(way) <= 8:
            raise BadRequest("each change needs a way")
        if not all((isinstance(s, str) and len(s) < 200) or (isinstance(s, int) and 0 <= s < 10_000) for s in way):
            raise BadRequest("a way is made of names and numbers")
        found.append((way, _plain_value(each.get("value"))))
    return found


async def edit(request: Request) -> Response:
    """Change fields of a job: 200 with the new state, 409 when it has gone on, 422 when the result is no job."""
    desk = await _desk(request)
    asked = await _asked(request)
    changes = _changes(asked.get("changes"))
    try:
        await desk.edit(changes, _text(asked, "revision", 64), _text(asked, "say", 200), asked.get("keep") is True)
    except Conflict:
        return JSONResponse({"say": "the job has gone on", **desk.state()}, 409)
    number = asked.get("part")
    if isinstance(number, int) and desk.told is not None and 0 <= number < len(desk.told["parts"]):
        desk.start(number)
    return JSONResponse(desk.state())


async def step(request: Request) -> Response:
    """Undo (-1) or redo (1)."""
    desk = await _desk(request)
    asked = await _asked(request)
    way = asked.get("way")
    if way not in (-1, 1) or isinstance(way, bool):
        raise BadRequest("way is -1 or 1")
    try:
        await desk.step(way, _text(asked, "revision", 64))
    except Conflict:
        return JSONResponse({"say": "the job has gone on", **desk.state()}, 409)
    return JSONResponse(desk.state())


def _level(request: Request) -> str:
    level = request.query_params.get("level", "full")
    if level not in ("shape", "quick", "full"):
        raise BadRequest("level is shape, quick or full")
    return level


async def answer(request: Request) -> Response:
    """The answer of a part at a level, when it is there; the page gives up waiting when it no longer wants it."""
    desk = await _desk(request)
    number = request.path_params["number"]
    fingerprint, (told, _) = await desk.answer(number, _level(request))
    return JSONResponse({**told, "number": number, "fingerprint": fingerprint, "serial": desk.serial})


async def scene(request: Request) -> Response:
    """The picture of that answer, as bytes (see `scene`)."""
    desk = await _desk(request)
    fingerprint, (_, drawn) = await desk.answer(request.path_params["number"], _level(request))
    return Response(drawn, media_type="application/octet-stream", headers={"x-fingerprint": fingerprint})


async def further(request: Request) -> Response:
    """Changes that would make a part enough, or how it does in other sheet: asked for, since they take a while."""
    desk = await _desk(request)
    what = request.path_params["what"]
    if what not in ("mend", "compare"):
        raise NotHere(what)
    fingerprint, (told, _) = await desk.answer(request.path_params["number"], what)
    return JSONResponse({**told, "fingerprint": fingerprint})


async def stand(request: Request) -> Response:
    """The answer of a stand."""
    desk = await _desk(request)
    number = request.path_params["number"]
    fingerprint, (told, _) = await desk.answer(number, "stand")
    pictures = sorted(told["pictures"])
    return JSONResponse({**told, "pictures": pictures, "number": number, "fingerprint": fingerprint})


async def stand_picture(request: Request) -> Response:
    """One of a stand's pictures."""
    desk = await _desk(request)
    _, (told, _) = await desk.answer(request.path_params["number"], "stand")
    drawn = told["pictures"].get(request.path_params["which"].removesuffix(".svg"))
    if drawn is None:
        raise NotHere(request.path_params["which"])
    return Response(drawn, media_type="image/svg+xml")


LARGEST_QUOTES = 2_000_000


def _reckoned(request: Request) -> str:
    return "sheets" if request.query_params.get("sheets") == "1" else "money"


async def money(request: Request) -> Response:
    """What the job costs and what to charge, or (`?sheets=1`) its parts on sheets and what it costs then."""
    desk = await _desk(request)
    await desk.glance()
    fingerprint, (told, _) = await desk.reckoned(_reckoned(request))
    kept = {"file": desk.quotes.file, "text": desk.quotes.text, "revision": desk.quotes.revision}
    pictures = sorted(told["pictures"])
    return JSONResponse({**told, "pictures": pictures, "quotes": kept, "fingerprint": fingerprint})


async def money_picture(request: Request) -> Response:
    """One of the pictures of `money`."""
    desk = await _desk(request)
    _, (told, _) = await desk.reckoned(_reckoned(request))
    drawn = told["pictures"].get(request.path_params["which"].removesuffix(".svg"))
    if drawn is None:
        raise NotHere(request.path_params["which"])
    return Response(drawn, media_type="image/svg+xml")


async def quotes(request: Request) -> Response:
    """Keep quotes beside the job; 422 with sentences when they cannot be read, 409 when others were put there."""
    desk = await _desk(request)
    asked = await _asked(request)
    text = None if asked.get("text") is None else _text(asked, "text", LARGEST_QUOTES)
    try:
        wrong = await desk.put_quotes(text, _text(asked, "before", 64))
    except Conflict:
        return JSONResponse({"say": "the quotes were changed elsewhere meanwhile; look at them first"}, 409)
    if wrong:
        return JSONResponse({"say": wrong[0], "sentences": wrong[:20]}, 422)
    return JSONResponse({"file": desk.quotes.file, "money": desk.money})


async def part_file(request: Request) -> Response:
    """A file of a part to take along: its flat as DXF or SVG, its model as STEP or glTF."""
    desk = await _desk(request)
    kind = request.path_params["kind"]
    if kind not in ("dxf", "svg", "step", "glb"):
        raise NotHere(kind)
    number = request.path_params["number"]
    desk.start(number)
    task = Task("steadfold.page.files", "part_file", (desk.text, str(desk.path), number, kind), 60.0)
    name, data = await _rooms(request).computers.do(task)
    kinds = {"svg": "image/svg+xml", "dxf": "image/vnd.dxf", "step": "model/step", "glb": "model/gltf-binary"}
    headers = {"content-disposition": f'attachment; filename="{name}"'}
    return Response(data, media_type=kinds[kind], headers=headers)


def _file_in(archive: bytes, name: str) -> bytes:
    with zipfile.ZipFile(io.BytesIO(archive)) as opened:
        return opened.read(f"order/{name}")


def _even(request: Request) -> bool:
    return request.query_params.get("even") == "1"


async def order(request: Request) -> Response:
    """What the order folder would hold, and what it leaves out."""
    desk = await _desk(request)
    told, _ = await desk.order(_even(request))
    return JSONResponse({**told, "revision": desk.revision})


async def order_archive(request: Request) -> Response:
    """The order folder as one archive."""
    desk = await _desk(request)
    told, packed = await desk.order(_even(request))
    if not packed:
        raise NotHere("order")
    headers = {"content-disposition": f'attachment; filename="{told["name"]}"'}
    return Response(packed, media_type="application/zip", headers=headers)


async def order_file(request: Request) -> Response:
    """One file of the order folder, to look at first."""
    desk = await _desk(request)
    told, packed = await desk.order(_even(request))
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
    desk = await _desk(request)
    told, packed = await desk.order(_even(request))
    name, page = request.path_params["file"], request.path_params["page"]
    if not 0 <= page < told["pages"].get(name, 0):
        raise NotHere(name)
    content = await asyncio.to_thread(_file_in, packed, name)
    task = Task("steadfold.page.paper", "picture", (name, content, page), 20.0)
    kind, drawn = await _rooms(request).readers.do(task)
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


async def notices(socket: WebSocket) -> None:
    """Tells what happens to a job until the page goes away. What the page says is not listened to."""
    try:
        desk = await _desk(socket)
    except LookupError:
        await socket.close(1008)
        return
    await socket.accept()
    queue = _rooms(socket).listen(desk)

    async def tell() -> None:
        await socket.send_json({"kind": "job", "serial": desk.serial, "revision": desk.revision})
        while True:
            await socket.send_json(await queue.get())

    telling = asyncio.create_task(tell())
    try:
        while True:
            await socket.receive()
    except (WebSocketDisconnect, RuntimeError):
        pass
    finally:
        telling.cancel()
        _rooms(socket).unlisten(desk, queue)
