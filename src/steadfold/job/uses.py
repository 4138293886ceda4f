"""What a part carries, how it is held, and what the job changes of the cases it is rated for."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from steadfold.catalogue import NotInCatalogue
from steadfold.catalogue.fasteners import grade
from steadfold.catalogue.profiles import profile
from steadfold.catalogue.wood import species, stud
from steadfold.job.fields import Fields
from steadfold.job.models import BACKINGS, CASE_SETTINGS, DOWNS, LIES, Capacity, Certificate, Mount
from steadfold.job.wording import not_listed, shown, unknown
from steadfold.mount.records import Carried, CaseChoices
from steadfold.sheet.outline import Outline, Point
from steadfold.sheet.tree import DrawnPanel, PanelTree

MOST_ITEMS = 200
MOST_OF_ONE_ITEM = 10_000
MOST_WALLS = 12


def read_carries(fields: Fields) -> tuple[Carried, ...]:
    """The `[[part.carries]]` tables that can be read."""
    return tuple(each for table in fields.tables("carries", MOST_ITEMS) for each in _carries(table))


def _carries(table: Fields) -> tuple[Carried, ...]:
    mark = table.notebook.mark
    item = table.text("item", required='"sculling oar"')
    mass = table.mass_range("mass", required='"1.9 kg" or ["1.6 kg", "2.3 kg"]')
    count = table.count("count", 1, high=MOST_OF_ONE_ITEM)
    on = table.text("on")
    at = table.point("at")
    reach = table.length("reach", low=0.0)
    table.done()
    if at is not None and on is None and "on" not in table:
        table.wrong("at", '"at" is a point of a panel; say which with on = "..."')
    if table.notebook.mark != mark or item is None or mass is None or count is None:
        return ()
    return (Carried(item, mass, count, on, at, reach),)


def check_places(fields: Fields, tree: PanelTree) -> None:
    """Note items on a place or panel that the tree does not have or off its metal, and mounts in no hole."""
    panels = {panel.name: panel for panel in tree.panels}
    places = [*(name for name, _ in tree.places), *panels]
    for number, entry in enumerate(fields.values.get("carries", [])):
        table = Fields(entry, (*fields.steps, "carries", number), fields.notebook)
        on = table.text("on")
        if on is None:
            continue
        if on not in places:
            table.wrong("on", unknown(on, places, "a place or panel of this part"))
        elif on in panels and "at" in table:
            _check_on_panel(table, panels[on], table.point("at"))
    mount = fields.table("mount")
    holes = mount.text("holes") if mount is not None else None
    if mount is None or holes is None:
        return
    if holes not in panels:
        mount.wrong("holes", unknown(holes, list(panels), "a panel of this part"))
    elif not panels[holes].cutouts:
        mount.wrong("holes", f'panel "{holes}" has no hole; give it a cutout for each fastener')


def _check_on_panel(table: Fields, panel: DrawnPanel, at: Point | None) -> None:
    if at is not None and not _within(panel.outline, at):
        x0, y0, x1, y1 = panel.outline.bounds
        table.wrong(
            "at",
            f'this point lies off panel "{panel.name}", which spans {x0:g}, {y0:g} to {x1:g}, {y1:g} mm',
        )


def _within(outline: Outline, point: Point) -> bool:
    """True on and inside the outline, by the crossings of a ray to the right; arcs as fine polygons."""
    corners = outline.vertices()
    x, y = point
    x0, y0, x1, y1 = outline.bounds
    if not (x0 - 1e-6 <= x <= x1 + 1e-6 and y0 - 1e-6 <= y <= y1 + 1e-6):
        return False
    if len(corners) == 4 and not any(outline.bulges) and abs(outline.area_mm2) > (x1 - x0) * (y1 - y0) - 1e-6:
        return True
    inside = False
    for (ax, ay), (bx, by) in zip(corners, [*corners[1:], corners[0]], strict=True):
        if (ay > y) != (by > y) and x <= ax + (y - ay) * (bx - ax) / (by - ay):
            inside = not inside
    return inside


def read_mount(fields: Fields) -> Mount | None:
    """The `[part.mount]` table; None when there is none or something in it is wrong."""
    table = fields.table("mount")
    if table is None:
        return None
    mark = table.notebook.mark
    mount = replace(
        _backing(table),
        holes=table.text("holes"),
        hole_mm=table.length("hole"),
        down=table.choice("down", DOWNS) or "bottom",
    )
    walls = tuple(_wall(each, mount) for each in table.tables("wall", MOST_WALLS))
    table.done()
    return replace(mount, walls=walls) if table.notebook.mark == mark else None


def _wall(table: Fields, mount: Mount) -> Mount:
    """Another wall, `[[part.mount.wall]]`: holes and the side that is down are the mount's; so is the fixing where this
    table names none."""
    wall = replace(
        _backing(table), called=table.text("called"), holes=mount.holes, hole_mm=mount.hole_mm, down=mount.down
    )
    table.done()
    if wall.fastener is None:
        wall = replace(wall, fastener=mount.fastener, grade=wall.grade or mount.grade)
        wall = replace(wall, length_mm=wall.length_mm or mount.length_mm, washer_mm=wall.washer_mm or mount.washer_mm)
    return wall


def _backing(table: Fields) -> Mount:
    """What a mount or another wall says of the fixing and of what it goes into."""
    to = table.choice("to", BACKINGS, required=True)
    return Mount(
        to=to or "unknown",
        fastener=table.text("fastener"),
        grade=_known(table, "grade", grade),
        length_mm=table.length("length"),
        washer_mm=table.length("washer"),
        wood=_known(table, "wood", species),
        stud=_known(table, "stud", stud),
        stud_spacing_mm=table.length("stud_spacing"),
        gap_mm=table.length("gap", low=0.0),
        gap_of=table.text("gap_of"),
        profile=_known(table, "profile", profile),
        capacity=read_capacity(table),
        board_mm=table.length("board"),
        rail=table.choice("rail", LIES),
        clamp_n=table.measure("force", "clamp", above=0.0),
        face_rad=table.measure("angle", "face", low=math.radians(5.0), high=math.pi / 2 + 1e-9),
        hook_mm=table.length("hook"),
    )


def _known(table: Fields, key: str, find: Callable[[str], object]) -> str | None:
    """A name that the catalogue knows; what it says of another name is noted."""
    name = table.text(key)
    if name is None:
        return None
    try:
        find(name)
    except NotInCatalogue as error:
        table.wrong(key, not_listed(error))
        return None
    return name


def read_capacity(fields: Fields) -> Capacity | None:
    """The `capacity` table of a fixing or of one fastener of a seam; None when there is none or something in it is wrong."""
    table = fields.table("capacity")
    if table is None:
        return None
    mark = table.notebook.mark
    tension = table.measure("force", "tension", above=0.0)
    shear = table.measure("force", "shear", above=0.0)
    source = table.text("from", required='"pull test, three screws, lowest of them"', longest=200)
    if "tension" not in table and "shear" not in table:
        table.missing("tension", '"1.2 kN" or shear = "0.9 kN", for one fastener')
    table.done()
    if table.notebook.mark != mark or source is None:
        return None
    return Capacity(source, tension, shear)


def read_cases(fields: Fields) -> CaseChoices:
    """The `[part.cases]` table: settings of the cases, each a value or refused with "none"."""
    table = fields.table("cases")
    if table is None:
        return CaseChoices()
    table.knows(*CASE_SETTINGS)
    refused = tuple(key for key in CASE_SETTINGS if _is_none(table.values.get(key)))
    kept = {key: value for key, value in table.values.items() if key not in refused}
    given = Fields(kept, table.steps, table.notebook)
    factor = 'a plain number from 1 to 100 is due here, or "none" to leave the case out'
    snatch = given.number("snatch_factor", factor, above=0.999999, high=100.0)
    drop = given.length("drop_height", low=0.0, high=2_000.0)
    knock = given.measure("force", "knock", low=0.0, high=100_000.0)
    lean = given.measure("force", "lean", low=0.0, high=100_000.0)
    sag = given.length("sag_limit")
    given.done()
    if snatch is not None and drop is not None:
        table.wrong("drop_height", "a drop height gives its own factor; write it or snatch_factor, not both")
    return CaseChoices(snatch, drop, knock, lean, sag, refused)


def _is_none(value: object) -> bool:
    return isinstance(value, str) and value.strip().casefold() == "none"


def read_certificate(fields: Fields) -> Certificate | None:
    """`certificate = { yield = "250 MPa", from = "..." }`: a promised yield for this sheet."""
    value = fields.raw("certificate")
    if value is not None and not isinstance(value, dict):
        fields.wrong(
            "certificate",
            f'{shown(value)} is not one; write {{ yield = "250 MPa", from = "mill certificate 3.1" }}',
        )
        return None
    table = fields.table("certificate")
    if table is None:
        return None
    strength = table.measure("stress", "yield", required='"250 MPa"', above=0.0, high=5_000.0)
    source = table.text("from", required='"mill certificate 3.1"', longest=200)
    table.done()
    return None if strength is None or source is None else Certificate(strength, source)
