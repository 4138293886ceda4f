"""What the page answers: its own files, the jobs, their answers and pictures, and notices over a WebSocket."""

from __future__ import annotations

import asyncio
import re
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

from steadfold.page import beginning, whole
from steadfold.page.asked import (
    MOST_CHANGES,
    BadRequest,
    asked_of,
    changes_in,
    desk_of,
    drawn_of,
    level_of,
    plain_value,
    rooms_of,
    said,
    text_in,
)
from steadfold.page.desk import CannotSave, Conflict
from steadfold.page.guards import GUARDS, App, Guard, guarded, sealed
from steadfold.page.house import House
from steadfold.page.rooms import Rooms
from steadfold.page.shelf import CAD_NAME, NAME, NotHere, Shelf, folder_id, inside
from steadfold.page.workers import Failed, Stale, Task, TooLong

STATIC = Path(__file__).parent / "static"
KINDS = {".html": "text/html", ".js": "text/javascript", ".css": "text/css", ".svg": "image/svg+xml"}
JOB_ADDRESS = re.compile(r"[0-9a-f]{10}/[^/\\\x00-\x1f]{1,125}")


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
        Route(f"{job}/money", whole.money),
        Route(f"{job}/money/picture/{{which}}", whole.money_picture),
        Route(f"{job}/quotes", whole.quotes, methods=["POST"]),
        Route(f"{job}/order", whole.order),
        Route(f"{job}/order/archive", whole.order_archive),
        Route(f"{job}/order/file/{{file:path}}", whole.order_file),
        Route(f"{job}/order/page/{{page:int}}/{{file:path}}", whole.order_page),
        WebSocketRoute("/notices/{folder}/{name}", notices),
    ]
    handlers: Mapping[Any, Callable[[Request, Any], Any]] = {
        NotHere: lambda request, error: said(404, "there is no such thing here"),
        LookupError: lambda request, error: said(404, "there is no such thing here"),
        BadRequest: lambda request, error: said(400, str(error)),
        Failed: _failed,
        # Not a fault: the one who asked is told of the newer version anyway.
        Stale: lambda request, error: Response(status_code=204),
        TooLong: lambda request, error: said(422, f"this {error}, which is longer than it may"),
        CannotSave: lambda request, error: said(507, str(error)),
        Exception: lambda request, error: said(500, "the page stumbled over a fault of its own"),
    }
    app = Starlette(routes=routes, lifespan=life, exception_handlers=handlers)
    app.state.house = house
    return sealed(guarded(app, house, guards, bodies), index)  # type: ignore[arg-type]


async def _failed(request: Request, error: Failed) -> Response:
    return JSONResponse({"say": error.sentence, "problems": list(error.problems)}, 422)


async def start(request: Request) -> Response:
    """What the start shows: the folder's jobs, recent ones, the shapes to begin with."""
    rooms = rooms_of(request)
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
    made = await rooms_of(request).readers.do(Task("steadfold.page.shape_pictures", "picture", (name,)))
    return Response(made, media_type="image/svg+xml")


async def new(request: Request) -> Response:
    """A new job from a shape and a few words."""
    asked = await asked_of(request)
    name = text_in(asked, "name", 80).strip() or text_in(asked, "shape")
    sizes = asked.get("sizes", {})
    if not isinstance(sizes, dict) or len(sizes) > MOST_CHANGES:
        raise BadRequest("sizes are due as an object")
    for key, value in sizes.items():
        plain_value(key), plain_value(value)
    words = {
        key: asked[key]
        for key in ("shape", "material", "thickness", "item", "to", "fastener", "reach")
        if asked.get(key)
    }
    for key in words:
        text_in(asked, key)
    numbers = {key: plain_value(asked[key]) for key in ("mass", "count") if asked.get(key)}
    wish = {**words, **numbers, "name": name, "sizes": sizes}
    text = await rooms_of(request).readers.do(Task("steadfold.page.beginning", "begun", (wish,), 20.0))
    return await _placed(request, name, text)


async def example(request: Request) -> Response:
    """The boat-shed job, copied into the folder."""
    await asked_of(request)
    return await _placed(request, "boat shed", await asyncio.to_thread(beginning.example_text))


async def drop(request: Request) -> Response:
    """A job, STEP or DXF file dropped on the page; nothing that is there is overwritten."""
    asked = await asked_of(request)
    name, data = text_in(asked, "name", 200), asked.get("data")
    if not isinstance(data, str):
        raise BadRequest("data is due as base64")
    try:
        content = await asyncio.to_thread(beginning.decoded, data)
    except ValueError as error:
        raise BadRequest(str(error)) from None
    rooms = rooms_of(request)
    stem = name.rsplit(".", 1)[0]
    if name.lower().endswith(".toml"):
        text = await rooms.readers.do(Task("steadfold.page.beginning", "dropped_job", (content,), 20.0))
        return await _placed(request, stem, text)
    if CAD_NAME.fullmatch(name) is None:
        raise BadRequest("a job (.toml), STEP or DXF file is due, with a plain name")
    if len(content) > beginning.LARGEST_CAD:
        return said(413, "a drawing of more than 50 MB is not read")
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
    rooms = rooms_of(request)

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
    desk = await desk_of(request)
    await desk.glance()
    await asyncio.to_thread(rooms_of(request).shelf.opened, desk.path)
    return JSONResponse(desk.state())


async def edit(request: Request) -> Response:
    """Change fields of a job: 200 with the new state, 409 when it has gone on, 422 when the result is no job."""
    desk = await desk_of(request)
    asked = await asked_of(request)
    changes = changes_in(asked.get("changes"))
    try:
        await desk.edit(changes, text_in(asked, "revision", 64), text_in(asked, "say", 200), asked.get("keep") is True)
    except Conflict:
        return JSONResponse({"say": "the job has gone on", **desk.state()}, 409)
    number = asked.get("part")
    if isinstance(number, int) and desk.told is not None and 0 <= number < len(desk.told["parts"]):
        desk.start(number)
    return JSONResponse(desk.state())


async def step(request: Request) -> Response:
    """Undo (-1) or redo (1)."""
    desk = await desk_of(request)
    asked = await asked_of(request)
    way = asked.get("way")
    if way not in (-1, 1) or isinstance(way, bool):
        raise BadRequest("way is -1 or 1")
    try:
        await desk.step(way, text_in(asked, "revision", 64))
    except Conflict:
        return JSONResponse({"say": "the job has gone on", **desk.state()}, 409)
    return JSONResponse(desk.state())


async def answer(request: Request) -> Response:
    """The answer of a part at a level, when it is there; the page gives up waiting when it no longer wants it."""
    desk = await desk_of(request)
    number = request.path_params["number"]
    fingerprint, (told, _) = await desk.answer(number, level_of(request))
    return JSONResponse({**told, "number": number, "fingerprint": fingerprint, "serial": desk.serial})


async def scene(request: Request) -> Response:
    """The picture of that answer, as bytes (see `scene`)."""
    desk = await desk_of(request)
    fingerprint, (_, drawn) = await desk.answer(request.path_params["number"], level_of(request))
    return Response(drawn, media_type="application/octet-stream", headers={"x-fingerprint": fingerprint})


async def further(request: Request) -> Response:
    """Changes that would make a part enough, or how it does in other sheet: asked for, since they take a while."""
    desk = await desk_of(request)
    what = request.path_params["what"]
    if what not in ("mend", "compare"):
        raise NotHere(what)
    fingerprint, (told, _) = await desk.answer(request.path_params["number"], what)
    return JSONResponse({**told, "fingerprint": fingerprint})


async def stand(request: Request) -> Response:
    """The answer of a stand."""
    desk = await desk_of(request)
    number = request.path_params["number"]
    fingerprint, (told, _) = await desk.answer(number, "stand")
    pictures = sorted(told["pictures"])
    return JSONResponse({**told, "pictures": pictures, "number": number, "fingerprint": fingerprint})


async def stand_picture(request: Request) -> Response:
    """One of a stand's pictures."""
    desk = await desk_of(request)
    _, (told, _) = await desk.answer(request.path_params["number"], "stand")
    return drawn_of(request, told["pictures"])


async def part_file(request: Request) -> Response:
    """A file of a part to take along: its flat as DXF or SVG, its model as STEP or glTF."""
    desk = await desk_of(request)
    kind = request.path_params["kind"]
    if kind not in ("dxf", "svg", "step", "glb"):
        raise NotHere(kind)
    number = request.path_params["number"]
    desk.start(number)
    task = Task("steadfold.page.files", "part_file", (desk.text, str(desk.path), number, kind), 60.0)
    name, data = await rooms_of(request).computers.do(task)
    kinds = {"svg": "image/svg+xml", "dxf": "image/vnd.dxf", "step": "model/step", "glb": "model/gltf-binary"}
    headers = {"content-disposition": f'attachment; filename="{name}"'}
    return Response(data, media_type=kinds[kind], headers=headers)


async def notices(socket: WebSocket) -> None:
    """Tells what happens to a job until the page goes away. What the page says is not listened to."""
    try:
        desk = await desk_of(socket)
    except LookupError:
        await socket.close(1008)
        return
    await socket.accept()
    queue = rooms_of(socket).listen(desk)

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
        rooms_of(socket).unlisten(desk, queue)
