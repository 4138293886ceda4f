"""What a `[[stand]]` says of machine, people, bench, limits, workshop and readings."""

from __future__ import annotations

import math

from steadfold.catalogue.profiles import profile
from steadfold.job.fields import Fields, Notebook
from steadfold.job.models import LaterTable
from steadfold.job.stand_fields import lengths_in, place_in, points_in, profile_in, triple_in
from steadfold.quantities import QuantityError, Range, read_frequency
from steadfold.stand.reading import Vial, low_from_bubble_mm, low_from_degrees_mm
from steadfold.stand.records import (
    Bench,
    Leaning,
    Limits,
    Machine,
    Push,
    Reading,
    Speed,
    StandError,
    Workshop,
)
from steadfold.stand.weigh import NINETY_FIVE, ScaleReading, weigh, with_weighed

MOST_FEET = 12
MOST_READINGS = 50


def read_machine(fields: Fields, table: Fields | None) -> Machine | None:
    """The `[stand.machine]` table."""
    if table is None:
        return None
    mark = table.notebook.mark
    name = table.text("name", "machine") or "machine"
    scales = table.tables("scale", MOST_READINGS)
    if not scales:
        mass = table.mass_range(
            "mass", '"45 kg", ["40 kg", "60 kg"], or readings of a scale as [[stand.machine.scale]]'
        )
    else:
        mass = Range(1.0, 1.0)
        if "mass" in table:
            table.wrong("mass", "the readings of a scale say it; write one of the two")
    centre = place_in(table, "centre", required=True)
    spread = place_in(table, "centre_error") or (0.0, 0.0, 0.0)
    feet = points_in(table, "feet", MOST_FEET)
    size = place_in(table, "size")
    people = table.count("people", 2, high=20) or 2
    known = table.choice("mass_is", ("given", "weighed", "guessed"), "given") or "given"
    speeds = tuple(each for each in (read_speed(t) for t in table.tables("speed", 20)) if each is not None)
    pushes = tuple(each for each in (read_push(t) for t in table.tables("push", 20)) if each is not None)
    readings = [read_scale(t) for t in scales]
    table.done()
    if not feet and "feet" not in table:
        table.missing("feet", '[["120 mm", "0 mm"], ["580 mm", "0 mm"]], x and y of each foot')
    if table.notebook.mark != mark or mass is None or centre is None:
        return None
    machine = Machine(
        name,
        mass,
        centre,
        tuple(feet),
        size,
        (abs(spread[0]), abs(spread[1]), abs(spread[2])),
        speeds,
        pushes,
        people,
        known,
    )
    if not readings:
        return machine
    try:
        return with_weighed(machine, weigh([each for each in readings if each is not None]))
    except StandError as error:
        steps = ("scale", *error.steps[1:]) if len(error.steps) > 1 else ("scale",)
        table.notebook.note((*table.steps, *steps), error.sentence)
        return None


def scale_readings(table: LaterTable) -> tuple[ScaleReading, ...]:
    """The readings of a scale in a stand that has been read without a problem."""
    machine = table.values.get("machine")
    scales = machine.get("scale", []) if isinstance(machine, dict) else []
    notebook = Notebook(table.text)
    found = [
        read_scale(Fields(each, (*table.path, "machine", "scale", number), notebook))
        for number, each in enumerate(scales)
    ]
    return tuple(each for each in found if each is not None)


def read_scale(table: Fields) -> ScaleReading | None:
    """One reading of a scale; its error is what 95 % of its readings keep within."""
    mark = table.notebook.mark
    reads = table.measure("mass", "reads", required='"74 kg"', low=0.0)
    error = table.measure("mass", "error", required='"0.5 kg", what it keeps within', above=0.0)
    at = table.point("at")
    line = points_in(table, "others_on", 2)
    if "others_on" in table and len(line) != 2 and table.notebook.mark == mark:
        table.wrong(
            "others_on",
            'the line the other feet stand on has two points, like [["460 mm", "0 mm"], ["460 mm", "500 mm"]]',
        )
    if line and at is None and "at" not in table:
        table.missing("at", '["0 mm", "0 mm"], where the scale pushes up')
    raised = table.measure("angle", "raised", 0.0, low=math.radians(-45.0), high=math.radians(45.0)) or 0.0
    lever = table.number("lever", "the plank's scale arm over its foot arm, a number above 0", high=100.0) or 1.0
    tare = table.measure("mass", "tare", 0.0, low=0.0) or 0.0
    off = table.length("place_error", low=0.0) or 0.0
    say = table.text("say", "") or ""
    table.done()
    if table.notebook.mark != mark or reads is None or error is None:
        return None
    pivot = (line[0], line[1]) if len(line) == 2 else None
    return ScaleReading(reads, error / NINETY_FIVE, at or (0.0, 0.0), pivot, raised, lever, off, tare, say)


def read_speed(table: Fields) -> Speed | None:
    """One thing that turns."""
    what = table.text("what", required='"motor"')
    value = table.raw("speed")
    hz = None
    if value is None:
        table.missing("speed", '"2850 rpm" or "24 Hz"')
    else:
        try:
            hz = read_frequency(value)
            if hz <= 0.0:
                table.wrong("speed", "a speed is more than 0")
        except QuantityError as error:
            table.wrong("speed", str(error))
    table.done()
    return None if what is None or hz is None else Speed(what, hz)


def read_push(table: Fields) -> Push | None:
    """One push of or on the machine."""
    mark = table.notebook.mark
    what = table.text("what", required='"belt"')
    force = triple_in(table, "force", "force", '["0 N", "150 N", "0 N"]')
    at = place_in(table, "at", required=True)
    table.done()
    if table.notebook.mark != mark or what is None or force is None or at is None:
        return None
    return Push(what, force, at)


def read_leaning(table: Fields | None) -> Leaning:
    """The `[stand.leaning]` table."""
    if table is None:
        return Leaning()
    refused = isinstance(table.values.get("force"), str) and table.values["force"].strip().casefold() == "none"
    if refused:
        table.knows("force")
        force = 0.0
    else:
        value = table.measure("force", "force", Leaning().force_n, low=0.0, high=10_000.0)
        force = Leaning().force_n if value is None else value
    at = table.text("at")
    table.done()
    return Leaning(force, at, refused)


def read_bench(table: Fields | None) -> Bench | None:
    """The `[stand.bench]` table."""
    if table is None:
        return None
    mark = table.notebook.mark
    mass = table.mass_range("mass", '"95 kg" or ["80 kg", "110 kg"]')
    centre, feet = table.point("centre", required=True), points_in(table, "feet", MOST_FEET)
    top = table.length("height", required='"860 mm", of the stand\'s origin above the floor')
    rack = None
    racking = table.table("racking")
    if racking is not None:
        push = racking.measure("force", "push", required='"100 N"', above=0.0)
        moves = racking.length("moves", required='"2 mm"')
        racking.done()
        rack = push / moves if push is not None and moves is not None else None
    if len(feet) < 2 and table.notebook.mark == mark:
        table.missing("feet", '[["-120 mm", "0 mm"], ["-120 mm", "600 mm"], ["-1760 mm", "0 mm"], ...], at least two')
    wheels = bool(table.flag("wheels", False))
    friction = table.number("friction", "a coefficient of friction from 0 to 1.5", high=1.5) or 0.3
    ballast, hold_down = table.length("ballast_at", low=-20_000.0), table.length("hold_down_at", low=-20_000.0)
    table.done()
    if table.notebook.mark != mark or mass is None or centre is None or top is None:
        return None
    return Bench(mass, centre, tuple(feet), top, rack, wheels, friction, ballast, hold_down)


def read_limits(table: Fields | None) -> Limits:
    """The `[stand.limits]` table."""
    if table is None:
        return Limits()
    factor = table.number("tipping_factor", "a factor of 1 or more, such as 1.5", above=0.999999, high=20.0)
    apart = table.number("speed_apart", "a share above 0 and up to 1, such as 0.2", high=1.0)
    sag, slope = table.length("sag"), table.length("slope_per_m")
    table.done()
    return Limits(sag, slope, factor or 1.5, apart or 0.2)


def read_workshop(table: Fields | None) -> Workshop:
    """The `[stand.workshop]` table."""
    if table is None:
        return Workshop()
    reach = table.measure("angle", "saw_reach", math.radians(45.0), low=math.radians(1.0), high=math.radians(89.0))
    kerf = table.length("kerf", low=0.0)
    stock: dict[str, tuple[float, ...]] = {}
    for each in table.tables("stock", 50):
        name, lengths = profile_in(each, "profile", required=True), lengths_in(each, "lengths")
        if lengths is None and "lengths" not in each:
            each.missing("lengths", '["3 m", "6 m"]')
        each.done()
        if name is not None and lengths:
            stock[profile(name).id] = lengths
    table.done()
    return Workshop(reach or math.radians(45.0), 3.0 if kerf is None else kerf, stock)


def read_reading(table: Fields) -> Reading | None:
    """One `[[stand.reading]]`."""
    mark = table.notebook.mark
    at = table.text("at", required='"left tip"')
    ways = [key for key in ("low", "slope", "bubble") if key in table]
    over = table.length("over")
    low = table.length("low", low=-2_000.0, high=2_000.0)
    slope = table.measure("angle", "slope", low=math.radians(-30.0), high=math.radians(30.0))
    bubble = table.number("bubble", "divisions the bubble is off, a plain number", above=-100.0, high=100.0)
    vial = table.length("vial_per_m")
    error = table.length("error")
    machine = table.choice("machine", ("on", "off"), "on")
    hung = table.measure("force", "hung", 0.0, low=0.0) or 0.0
    say = table.text("say", "") or ""
    table.done()
    if len(ways) != 1:
        table.wrong(
            ways[1] if ways else "at", 'one of low = "6 mm", slope = "0.5 deg" or bubble = 1.5 says how low it lies'
        )
    elif ways[0] != "low" and over is None and "over" not in table:
        table.missing("over", '"600 mm", the length the slope was read over')
    if table.notebook.mark != mark or at is None:
        return None
    if slope is not None and over is not None:
        low = low_from_degrees_mm(math.degrees(slope), over)
    elif bubble is not None and over is not None:
        low = low_from_bubble_mm(bubble, over, Vial(vial) if vial else None)
    if low is None:
        return None
    return Reading(at, low, error or 0.5, over, machine != "off", hung, say)
