"""The `[[stand]]` tables of a job as stands: every problem at once, each with its line and what would be right."""

from __future__ import annotations

import math

from steadfold.catalogue import NotInCatalogue
from steadfold.catalogue.fasteners import bolt
from steadfold.job.fields import LONGEST_TEXT, Fields, Notebook
from steadfold.job.models import Job, LaterTable
from steadfold.job.problem import JobProblems
from steadfold.job.stand_fields import (
    HELD_TO,
    direction_in,
    force_or_none,
    lengths_in,
    names_in,
    place_in,
    profile_in,
    read_fixing,
    read_joint,
    read_seat,
)
from steadfold.job.stand_machine import (
    MOST_READINGS,
    read_bench,
    read_leaning,
    read_limits,
    read_machine,
    read_reading,
    read_workshop,
)
from steadfold.job.wording import not_listed, shown
from steadfold.stand.frames import Frame, RodChoice, gantry, shelf_frame, triangle_pair, wall_bracket
from steadfold.stand.records import Fixing, Held, HeldKind, HeldTo, Joint, Member, Place, Stand, StandError, TieRod
from steadfold.stand.structure import built

FRAMES = ("triangle pair", "wall bracket", "shelf frame", "gantry", "free")
HELD_KINDS: tuple[HeldKind, ...] = ("clamped", "hinged", "pinned", "foot")
ROLES = ("arm", "brace", "post", "crossbar", "leg", "rail", "beam", "member")

MOST_NODES = 200
MOST_MEMBERS = 200


def read_stands(job: Job) -> tuple[Stand, ...]:
    """All stands of a job. Raises JobProblems with every problem of all of them."""
    problems, stands = [], []
    for table in job.stands:
        try:
            stands.append(read_stand(table))
        except JobProblems as found:
            problems += list(found.problems)
    if problems:
        raise JobProblems(problems)
    return tuple(stands)


def read_stand(table: LaterTable) -> Stand:
    """One stand. Raises JobProblems with every problem in its table, those of its frame included."""
    notebook = Notebook(table.text)
    fields = Fields(table.values, table.path, notebook)
    found = _stand(fields)
    problems = notebook.problems()
    if problems or found is None:
        raise JobProblems(problems)
    try:
        built(found).structure  # noqa: B018  (a frame that can move is said here, at its line)
    except StandError as error:
        raise table.refused(error.steps, error.sentence) from None
    return found


def _stand(fields: Fields) -> Stand | None:
    mark = fields.notebook.mark
    name = fields.text("name", required='"planer outrigger"')
    fields.text("note", longest=LONGEST_TEXT)
    kind = fields.choice("frame", FRAMES, required=True)
    frame = _frame(fields, kind) if kind is not None else None
    machine = read_machine(fields, fields.table("machine"))
    leaning = read_leaning(fields.table("leaning"))
    bench = read_bench(fields.table("bench"))
    limits = read_limits(fields.table("limits"))
    workshop = read_workshop(fields.table("workshop"))
    knock = force_or_none(fields, "knock", 150.0)
    shove = force_or_none(fields, "shove", 200.0)
    level_at = names_in(fields, "level_at")
    seats = [each for each in (read_seat(t) for t in fields.tables("on_part", MOST_NODES)) if each is not None]
    readings = tuple(
        each for each in (read_reading(t) for t in fields.tables("reading", MOST_READINGS)) if each is not None
    )
    if kind is not None:
        fields.done()
    if fields.notebook.mark != mark or frame is None or name is None:
        return None
    places = {
        "level_at": level_at,
        "reading": [each.at for each in readings],
        "leaning": [leaning.at] if leaning.at else [],
        "on_part": [node for node, _ in seats],
    }
    for key, names in places.items():
        for index, at in enumerate(names):
            if at not in frame.nodes:
                steps: tuple[str | int, ...] = (key, index) if key != "leaning" else (key, "at")
                if key in ("reading", "on_part"):
                    steps = (*steps, "at" if key == "reading" else "node")
                known = ", ".join(frame.nodes)
                fields.notebook.note(
                    (*fields.steps, *steps), f"{shown(at)} is no place of this frame; there are {known}"
                )
    sitting = dict(seats)
    if len(sitting) < len(seats):
        fields.wrong("on_part", "a node sits on one part only")
    if fields.notebook.mark != mark:
        return None
    return Stand(
        name=name,
        nodes=frame.nodes,
        members=frame.members,
        held=(*(each for each in frame.held if each.node not in sitting), *sitting.values()),
        tie_rods=frame.tie_rods,
        machine=machine,
        leaning=leaning,
        bench=bench,
        level_at=tuple(level_at) or frame.level_at,
        limits=limits,
        workshop=workshop,
        readings=readings,
        knock_n=knock,
        shove_n=shove,
        ready_made=kind or "free",
    )


def _frame(fields: Fields, kind: str) -> Frame | None:
    mark = fields.notebook.mark
    stock = profile_in(fields, "profile", required=kind != "free")
    punched = bool(fields.flag("punched", False))
    usual: dict[str, HeldTo] = {"wall bracket": "wall", "shelf frame": "floor"}
    fixing, to, gives = read_fixing(fields.table("fixing"), usual.get(kind, "bench"))
    default = read_joint(
        fields.table("joint"), Joint("pinned" if kind in ("triangle pair", "wall bracket") else "welded")
    )
    try:
        if kind == "free":
            return _free(fields, stock, default, punched)
        make = {"triangle pair": _pair, "wall bracket": _pair, "shelf frame": _shelf, "gantry": _gantry}[kind]
        return make(fields, kind, stock or "", punched, default, fixing, to, gives, mark)
    except StandError as error:
        fields.notebook.note((*fields.steps, *error.steps), error.sentence)
        return None


def _pair(
    fields: Fields, kind: str, stock: str, punched: bool, joint: Joint, fixing: Fixing | None, to: HeldTo,
    gives: float | None, mark: int,
) -> Frame | None:  # fmt: skip
    reach = fields.length("reach", required='"650 mm"')
    brace_at = fields.length("brace_at")
    angle = fields.measure("angle", "brace_angle", low=math.radians(5.0), high=math.radians(85.0))
    drop = fields.length("brace_drop")
    above = fields.choice("brace", ("below", "above"), "below") == "above"
    spacing = fields.length("spacing", required='"500 mm"' if kind == "triangle pair" else "")
    frames = fields.count("frames", 2 if kind == "triangle pair" else (2 if spacing else 1), high=2)
    bars = lengths_in(fields, "crossbars")
    brace_stock = profile_in(fields, "brace_profile")
    bar_stock = profile_in(fields, "crossbar_profile")
    arm_joint = read_joint(fields.table("arm_joint"), joint)
    brace_joint = read_joint(fields.table("brace_joint"), joint)
    bar_joint = read_joint(fields.table("crossbar_joint"), Joint("welded"))
    rods = _rod_choice(fields.table("tie_rods"))
    if angle is None and drop is None and "brace_angle" not in fields and "brace_drop" not in fields:
        fields.missing("brace_angle", '"45 deg", the angle between arm and brace (or brace_drop = "400 mm")')
    if angle is not None and drop is not None:
        fields.wrong("brace_drop", "the brace's angle says it already; write one of the two")
    if fields.notebook.mark != mark or reach is None:
        return None
    at = brace_at if brace_at is not None else 0.85 * reach
    if angle is None:
        assert drop is not None
        angle = math.atan2(drop, at)
    if kind == "wall bracket":
        if rods is not None:
            fields.wrong("tie_rods", 'a wall bracket has no tie rods; write frame = "triangle pair"')
            return None
        return wall_bracket(
            reach, angle, stock, spacing_mm=spacing or 0.0, brace_at_mm=at, brace_above=above, arm_joint=arm_joint,
            brace_joint=brace_joint, fixing=fixing, gives_n_per_mm=gives, punched=punched, crossbars_mm=bars,
        )  # fmt: skip
    return triangle_pair(
        reach, at, angle, spacing or 0.0, stock, frames=frames or 2, brace_profile=brace_stock, brace_above=above,
        crossbars_mm=bars, crossbar_profile=bar_stock, arm_joint=arm_joint, brace_joint=brace_joint,
        crossbar_joint=bar_joint, to=to, fixing=fixing, gives_n_per_mm=gives, rods=rods, punched=punched,
    )  # fmt: skip


def _shelf(
    fields: Fields, kind: str, stock: str, punched: bool, joint: Joint, fixing: Fixing | None, to: HeldTo,
    gives: float | None, mark: int,
) -> Frame | None:  # fmt: skip
    width, depth, height = (fields.length(key, required='"800 mm"') for key in ("width", "depth", "height"))
    low, braces = fields.length("low_rails"), fields.length("braces")
    brace_joint = read_joint(fields.table("brace_joint"), Joint("pinned"))
    if fields.notebook.mark != mark or width is None or depth is None or height is None:
        return None
    return shelf_frame(
        width, depth, height, stock, joint=joint, low_rails_mm=low, braces_mm=braces, brace_joint=brace_joint,
        foot=fixing, punched=punched,
    )  # fmt: skip


def _gantry(
    fields: Fields, kind: str, stock: str, punched: bool, joint: Joint, fixing: Fixing | None, to: HeldTo,
    gives: float | None, mark: int,
) -> Frame | None:  # fmt: skip
    span, height = fields.length("span", required='"1800 mm"'), fields.length("height", required='"700 mm"')
    depth, braces = fields.length("depth"), fields.length("braces")
    beam = profile_in(fields, "beam_profile")
    foot_joint = read_joint(fields.table("foot_joint"), Joint("pinned"))
    brace_joint = read_joint(fields.table("brace_joint"), Joint("pinned"))
    if fields.notebook.mark != mark or span is None or height is None:
        return None
    return gantry(
        span, height, stock, depth_mm=depth or 0.0, beam_profile=beam, joint=joint, braces_mm=braces,
        brace_joint=brace_joint, to=to, fixing=fixing, foot_joint=foot_joint, punched=punched,
    )  # fmt: skip


def _free(fields: Fields, stock: str | None, default: Joint, punched: bool) -> Frame | None:
    mark = fields.notebook.mark
    nodes: dict[str, Place] = {}
    for table in fields.tables("node", MOST_NODES):
        name, at = table.text("name", required='"left tip"'), place_in(table, "at", required=True)
        table.done()
        if name is not None and name in nodes:
            table.wrong("name", f"two nodes are named {shown(name)}")
        elif name is not None and at is not None:
            nodes[name] = at
    members = [_member(table, stock, default, punched) for table in fields.tables("member", MOST_MEMBERS)]
    held = [_held(table) for table in fields.tables("held", MOST_NODES)]
    rods = [_rod(table) for table in fields.tables("tie_rod", MOST_NODES)]
    for key, count in (("node", len(nodes)), ("member", len(members)), ("held", len(held))):
        if not count and key not in fields and not (key == "held" and "on_part" in fields):
            fields.missing(key, f"[[stand.{key}]], one table for each")
    if fields.notebook.mark != mark:
        return None
    level = tuple(name for name in nodes if "tip" in name) or tuple(nodes)[-1:]
    return Frame(
        nodes,
        tuple(each for each in members if each is not None),
        tuple(each for each in held if each is not None),
        tuple(each for each in rods if each is not None),
        level,
    )


def _member(table: Fields, stock: str | None, default: Joint, punched: bool) -> Member | None:
    mark = table.notebook.mark
    name = table.text("name", required='"left arm"')
    start, end = table.text("from", required='"left root"'), table.text("to", required='"left tip"')
    own = profile_in(table, "profile") or stock
    if own is None and "profile" not in table:
        table.missing("profile", '"strut 41x41x2.5" (or one for the whole stand)')
    role = table.choice("role", ROLES, "member")
    up = direction_in(table, "up")
    slots = table.flag("punched", punched)
    both = read_joint(table.table("joint"), default)
    first, last = read_joint(table.table("joint_from"), both), read_joint(table.table("joint_to"), both)
    unheld = table.length("unheld")
    table.done()
    if table.notebook.mark != mark or name is None or start is None or end is None or own is None:
        return None
    return Member(name, start, end, own, (first, last), up, role or "member", bool(slots), unheld)


def _held(table: Fields) -> Held | None:
    mark = table.notebook.mark
    node = table.text("node", required='"left root"')
    how = table.choice("how", HELD_KINDS, "clamped")
    to = table.choice("to", HELD_TO, "bench")
    fixing, _, gives = read_fixing(table.table("fixing"), to or "bench")
    table.done()
    if table.notebook.mark != mark or node is None or how is None or to is None:
        return None
    return Held(node, how, to, fixing, gives)


def _rod(table: Fields) -> TieRod | None:
    mark = table.notebook.mark
    name = table.text("name", required='"left rod"')
    start, end = table.text("from", required='"left post head"'), table.text("to", required='"left rod foot"')
    size, adjuster, pull, slack, bar, limit = _rod_values(table)
    table.done()
    if table.notebook.mark != mark or name is None or start is None or end is None or size is None:
        return None
    return TieRod(name, start, end, size, "turnbuckle" if adjuster == "turnbuckle" else "nut", pull, slack, bar, limit)


def _rod_values(
    table: Fields,
) -> tuple[str | None, str, float, float, tuple[float, float, float] | None, float | None]:
    size = table.text("size", required='"M10" or "3/8"')
    if size is not None:
        try:
            bolt(size)
        except NotInCatalogue as error:
            table.wrong("size", not_listed(error))
    adjuster = table.choice("adjust", ("nut", "turnbuckle"), "nut") or "nut"
    pull = table.measure("force", "pretension", 0.0, low=0.0) or 0.0
    slack = table.length("slack", low=0.0) or 0.0
    limit = table.measure("force", "load_limit", above=0.0)
    return size, adjuster, pull, slack, _crossbar(table.table("crossbar")), limit


def _crossbar(table: Fields | None) -> tuple[float, float, float] | None:
    if table is None:
        return None
    mark = table.notebook.mark
    diameter, hole = table.length("diameter", required='"20 mm"'), table.length("hole", required='"11 mm"')
    off = table.length("off_support", required='"15 mm", from the rod to where the bar is held')
    table.done()
    if diameter is not None and hole is not None and hole >= diameter:
        table.wrong("hole", "the hole is as wide as the bar; nothing is left of it")
    if table.notebook.mark != mark or diameter is None or hole is None or off is None:
        return None
    return diameter, hole, off


def _rod_choice(table: Fields | None) -> RodChoice | None:
    if table is None:
        return None
    mark = table.notebook.mark
    at, head = table.length("at", required='"600 mm"'), table.length("head", required='"250 mm"')
    size, adjuster, pull, slack, bar, _ = _rod_values(table)
    post, below = profile_in(table, "post_profile"), table.length("post_below", low=0.0) or 0.0
    table.done()
    if table.notebook.mark != mark or at is None or head is None or size is None:
        return None
    return RodChoice(at, head, size, "turnbuckle" if adjuster == "turnbuckle" else "nut", pull, slack, post, below, bar)
