"""Folded parts under a stand: made ready on their wall, solved with the frame in one system, and read like any part."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from steadfold.catalogue import Material, material
from steadfold.fabricate.shop import Shop
from steadfold.findings import Finding, Severity, verdict_of, worst
from steadfold.job.models import Job, JobPart, LaterTable
from steadfold.job.problem import JobProblems
from steadfold.joints.capacity import FixingCapacity
from steadfold.mechanics import Contacts, Loads, Masses, Mechanism, Result, ShellReader, turned
from steadfold.mount import cases as mount_cases
from steadfold.mount.answers import answer
from steadfold.mount.cuts import Line
from steadfold.mount.net_sections import cut_lines
from steadfold.mount.records import MountError
from steadfold.mount.seams_told import with_seams
from steadfold.mount.structure import Mounted, mounted, on_rim
from steadfold.mount.structure import Seat as SeatOnPanel
from steadfold.review.holding import prepared
from steadfold.review.records import PartReview
from steadfold.review.shaping import shaped
from steadfold.sheet.part import Part
from steadfold.stand.answers import CarriedBy, PartLink, StandReport
from steadfold.stand.carrier import Carrier, Clamped
from steadfold.stand.records import Held, Stand
from steadfold.stand.statics import Case, of_carrier
from steadfold.stand.structure import Built

TRIANGLES = 2500
"""About how many triangles one piece takes, bends and holes apart."""

AGREE_MM = 1.0
"""Nodes that sit on one piece of a part must lie as far apart as their seats do, to this."""


@dataclass(frozen=True, eq=False)
class Piece:
    """One piece of a part under a frame: ready to be solved with it, and to be read afterwards."""

    carrier: Carrier
    part: str
    here: Mounted
    capacity: FixingCapacity
    lines: tuple[Line, ...]
    reader: ShellReader


def on_parts(job: Job, table: LaterTable, stand: Stand, shop: Shop) -> tuple[Stand, tuple[Piece, ...]]:
    """The stand with the folded parts that carry it made ready; as it is where none does.

    Raises `JobProblems` at the line for a part or panel that the job does not have, and for nodes of one piece that its
    seats do not fit.
    """
    groups: dict[tuple[str, str], list[Held]] = {}
    for each in stand.held:
        if each.seat is not None:
            groups.setdefault((each.seat.part, each.seat.piece or each.node), []).append(each)
    pieces = tuple(_piece(job, table, stand, shop, held) for held in groups.values())
    return replace(stand, carriers=tuple(each.carrier for each in pieces)), pieces


def pieces_needed(stand: Stand) -> dict[str, int]:
    """How many pieces of each part a stand takes."""
    needed: dict[str, set[str]] = {}
    for each in stand.held:
        if each.seat is not None:
            needed.setdefault(each.seat.part, set()).add(each.seat.piece or each.node)
    return {part: len(pieces) for part, pieces in needed.items()}


def _piece(job: Job, table: LaterTable, stand: Stand, shop: Shop, held: Sequence[Held]) -> Piece:
    first = held[0]
    assert first.seat is not None

    def refused(each: Held, key: str, sentence: str) -> JobProblems:
        number = _row(table, each.node)
        return table.refused(("on_part", number, key), sentence)

    try:
        ordered = job.part(first.seat.part)
    except KeyError:
        names = ", ".join(repr(part.name) for part in job.parts) or "none"
        raise refused(first, "part", f"there is no part {first.seat.part!r} in this job; it has {names}") from None
    metal = material(ordered.material)
    part = shaped(job, ordered, metal, shop).part
    if part is None or ordered.mount is None:
        why = (
            "its shape could not be had" if part is None else "the job does not say what it is fixed to ([part.mount])"
        )
        raise refused(first, "part", f"{ordered.name!r} cannot carry a frame: {why}")
    seats: list[SeatOnPanel] = []
    for each in held:
        assert each.seat is not None
        try:
            panel = part.panel_index(each.seat.panel)
        except KeyError:
            known = ", ".join(panel.name for panel in part.panels)
            raise refused(each, "on", f"there is no panel {each.seat.panel!r}; {ordered.name} has {known}") from None
        seat = SeatOnPanel(panel, each.seat.at_mm, each.seat.reach_mm, each.seat.washer_mm, each.seat.rear)
        why = _no_room(part, seat, seats)
        if why:
            raise refused(each, "at", why)
        seats.append(seat)
    return _made_ready(job, ordered, metal, part, stand, held, seats, refused)


def _no_room(part: Part, seat: SeatOnPanel, others: Sequence[SeatOnPanel]) -> str:
    """Why a seat cannot be where it is said to be; empty where it can."""
    panel, (x, y) = part.panels[seat.panel], seat.at_mm
    outer = shapely.union_all([face.outer.polygon() for face in panel.faces])
    if not outer.covers(shapely.Point(x, y)):
        x0, y0, x1, y1 = outer.bounds
        return f"{x:g}, {y:g} mm is off panel {panel.name!r}, whose flat metal runs from {x0:.1f}, {y0:.1f} to {x1:.1f}, {y1:.1f} mm"
    for other in others:
        apart = math.dist(seat.at_mm, other.at_mm)
        if other.panel == seat.panel and apart < 0.5 * (seat.washer_mm + other.washer_mm) * 1.1:
            return f"it is {apart:.0f} mm from another seat on {panel.name!r}: what clamps the two would overlap"
    return ""


def _made_ready(job: Job, ordered: JobPart, metal: Material, part: Part, stand: Stand, held: Sequence[Held],
                seats: Sequence[SeatOnPanel], refused: object) -> Piece:  # fmt: skip
    assert ordered.mount is not None and callable(refused)
    try:
        ready = prepared(ordered, ordered.mount, part, metal)
        here = mounted(
            part, ready.metal, ready.fixings, ready.carried, target_triangles=TRIANGLES, hole_segments=16, seats=seats
        )
    except MountError as error:
        steps = (error.table, error.number, error.field) if error.table == "carries" else (error.table, error.field)
        raise JobProblems([job.text.problem((*ordered.path, *steps), str(error))]) from None
    except Mechanism as error:
        raise refused(held[0], "part", f"on its fixings {ordered.name!r} can still move: {error}") from None
    except ValueError:
        raise refused(held[0], "at", "what clamps it there would lie over one of the part's own fixings") from None
    seat = held[0].seat
    assert seat is not None
    turn = stand_axes(here, seat.turned_rad)
    shift = np.asarray(stand.nodes[held[0].node]) - turn @ here.nodes_mm[here.seat_nodes[0]]
    for each, node in zip(held, here.seat_nodes, strict=True):
        there = turn @ here.nodes_mm[node] + shift
        if np.linalg.norm(there - np.asarray(stand.nodes[each.node])) > AGREE_MM:
            places = ", ".join(f"{value:.1f}" for value in there)
            raise refused(
                each, "at", f"on that piece of {ordered.name!r} this seat lies at {places} mm, where the node is not"
            )
    masses = Masses(here.load_nodes, [item.mass_kg.high for item in here.items])
    model = turned(replace(here.model, masses=masses), turn, shift)
    # the middle of a seat lies where the node is, to the digit
    places_mm = model.nodes_mm.copy()
    places_mm[here.seat_nodes] = [stand.nodes[each.node] for each in held]
    clamped = {}
    for each, on in zip(held, seats, strict=True):
        out = turn @ here.pose.panels[on.panel].face * (-1.0 if on.rear else 1.0)
        clamped[each.node] = Clamped(
            part.thickness_mm, metal.ultimate_low_mpa, (float(out[0]), float(out[1]), float(out[2]))
        )
    wall = here.wall
    carrier = Carrier(
        f"{ordered.name} ({seat.piece or held[0].node})", replace(model, nodes_mm=places_mm),
        {each.node: int(node) for each, node in zip(held, here.seat_nodes, strict=True)}, clamped,
        Contacts(wall.nodes, wall.normals @ turn.T, wall.compliance_mm_per_n, wall.gap_mm), on_rim(here), turn,
    )  # fmt: skip
    return Piece(carrier, ordered.name, here, ready.capacity, cut_lines(here), ShellReader(here.model))


def stand_axes(here: Mounted, turned_rad: float = 0.0) -> np.ndarray:
    """The turn (3, 3) from the axes of a part on its wall to the stand's: x out from the wall, z up.

    Of a part whose wall is a ceiling or a table, x is the way its panel's own x runs. `turned_rad` turns it on about the
    upright.
    """
    up = -here.down
    out = here.out - (here.out @ up) * up
    if np.linalg.norm(out) < 0.5:
        along = here.pose.panels[here.fixings.panel].along
        out = along - (along @ up) * up
    out = out / np.linalg.norm(out)
    cosine, sine = np.cos(turned_rad), np.sin(turned_rad)
    about = np.array([[cosine, -sine, 0.0], [sine, cosine, 0.0], [0.0, 0.0, 1.0]])
    return np.asarray(about @ np.stack([out, np.cross(up, out), up]))


def read_pieces(
    pieces: Sequence[Piece], built: Built, cases: Sequence[Case], results: Sequence[Result]
) -> tuple[CarriedBy, ...]:
    """What each piece takes in every case, its worst links first; read as any part on its wall is."""
    found = []
    for index, piece in enumerate(pieces):
        worst: dict[str, PartLink] = {}
        gravity = piece.here.gravity()
        for case, result in zip(cases, results, strict=True):
            moved = of_carrier(built, result, index)
            loads = Loads(gravity_mm_s2=gravity if any(case.loads.gravity_mm_s2) else (0.0, 0.0, 0.0))
            own = replace(result, model=piece.here.model, loads=loads, displacement=moved)
            named = mount_cases.Case(case.name, case.say, loads, loads)
            read = answer(piece.here, named, own, piece.reader, piece.lines, piece.capacity, None)
            for share in with_seams(piece.here, [read], [own])[0].shares:
                known = worst.get(share.link)
                if known is None or (known.share is not None and (share.value is None or share.value > known.share)):
                    worst[share.link] = PartLink(share.link, share.place, share.value, case.name, share.say)
        links = sorted(worst.values(), key=lambda link: -1.0 if link.share is None else -link.share)
        seats = [(node, built.node_of[node]) for node in piece.carrier.seats]
        lowered = tuple(-float(results[0].displacement[number, 2]) for _, number in seats)
        found.append(CarriedBy(piece.carrier.name, piece.part, tuple(node for node, _ in seats), tuple(links), lowered))
    return tuple(found)


def under_frames(part: PartReview, stands: Sequence[StandReport]) -> PartReview:
    """The review of a part with what the frames on it do to it; as it is where it carries none.

    A part that carries nothing else is rated by its frame alone.
    """
    carries = [(stand, each) for stand in stands for each in stand.carried_by if each.part == part.name]
    if not carries:
        return part
    names = list(dict.fromkeys(stand.name for stand, _ in carries))
    needed = sum(pieces_needed(stand.stand).get(part.name, 0) for stand in stands)
    findings = [each for each in part.findings if each.code != "load-unknown"]
    findings.append(Finding(
        "carries-frame", Severity.NOTE, part.name,
        f"It carries {' and '.join(names)} and is rated with it, as one system.", source="frame and sheet together",
    ))  # fmt: skip
    if needed > part.ordered.quantity:
        findings.append(Finding(
            "too-few-pieces", Severity.CAUTION, part.name,
            f"{' and '.join(names)} takes {needed} of it; the job orders {part.ordered.quantity}.",
            float(part.ordered.quantity), float(needed), "the job", f"quantity = {needed}",
        ))  # fmt: skip
    shares = [each.share for _, each in carries]
    share = None if any(each is None for each in shares) else max(each for each in shares if each is not None)
    over = [each for each in shares if each is not None and each > 1.0]
    share = max(over, default=share)
    if part.strength is not None:
        return replace(part, verdict=worst([part.verdict, verdict_of(share, [])]), findings=tuple(findings))
    _, hardest = max(carries, key=lambda pair: pair[1].share if pair[1].share is not None else -1.0)
    link = hardest.links[0]
    return replace(
        part, verdict=verdict_of(share, findings), findings=tuple(findings),
        weakest=f"{link.place} ({link.case}, under {names[0]}): {link.say.removeprefix(link.place + ': ')}",
    )  # fmt: skip


def _row(table: LaterTable, node: str) -> int:
    """The place of a node's table among the stand's `on_part`."""
    rows = table.values.get("on_part", [])
    return next((k for k, row in enumerate(rows) if isinstance(row, dict) and row.get("node") == node), 0)
