"""`steadfold template JOB`: the cut list of a stand with saw settings, and templates at 1:1 for ends no saw scale
goes to.
"""

from __future__ import annotations

import argparse
import json
import math
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from steadfold.quantities.showing import Units
    from steadfold.stand.cut_list import CutList, CutPiece, OnPitch

EXAMPLE = "steadfold template examples/press-stand.toml --out out/templates"


def arguments(command: argparse.ArgumentParser) -> None:
    """What the command takes."""
    command.add_argument("job", metavar="JOB", nargs="?", help="the job file (TOML) with a [[stand]]")
    command.add_argument("--stand", metavar="NAME", help="which stand; the job's first when left out")
    command.add_argument(
        "--profile", metavar="PROFILE", help='no job: one template for this profile ("strut 41x41x2.5")'
    )
    command.add_argument("--angle", metavar="ANGLE", help='no job: the cut, counted from square ("60 deg")')
    command.add_argument("--laid", action="store_true", help="templates to lay on a side instead of wrapping")
    command.add_argument("--saw", metavar="ANGLE", default="45 deg", help='no job: how far the saw swings ("45 deg")')
    command.add_argument("--out", metavar="DIR", help="write the templates (SVG, 1:1) into this folder")


def run(options: argparse.Namespace) -> int:
    """Cut list and templates; 1 when a saw cannot reach some end either way."""
    from steadfold.cli.problems import say_problem

    if options.job is None:
        if options.profile is None or options.angle is None:
            return say_problem("name a job, or --profile and --angle for a single template", options.json)
        return _single(options)
    return _job(options)


def _single(options: argparse.Namespace) -> int:
    from steadfold.catalogue import NotInCatalogue
    from steadfold.cli.problems import say_problem
    from steadfold.quantities import in_units, read_angle
    from steadfold.stand.cut_list import saw_setting
    from steadfold.stand.template import template

    angle = read_angle(options.angle)
    try:
        made = template(options.profile, angle, options.laid)
    except NotInCatalogue as error:
        return say_problem(error.message, options.json)
    except ValueError as error:
        return say_problem(str(error), options.json)
    setting = saw_setting(angle, read_angle(options.saw))
    files = {f"{_stem(made.profile)}-{math.degrees(angle):.1f}.svg": _drawn(made, "")}
    written = _write(options.out, files)
    if options.json:
        said = {
            "steadfold": 1,
            "templates": [
                {"profile": made.profile, "from_square_deg": round(math.degrees(angle), 4), "rise_mm": round(made.rise_mm, 4),
                 "girth_mm": round(made.girth_mm, 4), "saw": setting.say}
            ],
            "files": written,
        }  # fmt: skip
        print(json.dumps(said, ensure_ascii=False))
    else:
        print(f"{made.profile}: {in_units(setting.say, options.units)}")
        beyond = f"long point {made.rise_mm:.1f} mm beyond the short one"
        print(in_units(f"  {made.say}; {beyond}", options.units))
        _say_files(options.out, written)
    return 0 if setting.reachable else 1


def _job(options: argparse.Namespace) -> int:
    from steadfold.cli.stands import stand_from
    from steadfold.quantities import in_units
    from steadfold.stand.cut_list import braces_on_pitch, cut_list, pitch_of
    from steadfold.stand.template import template

    _, stand = stand_from(options.job, options.stand)
    found = cut_list(stand)
    wanted: dict[tuple[str, float], list[str]] = {}
    for piece in found.pieces:
        for end in piece.ends:
            angle = end.setting.from_square_rad
            if 0.0 < angle < math.radians(80.0):
                names = wanted.setdefault((piece.profile, round(math.degrees(angle), 2)), [])
                names += [] if piece.name in names else [piece.name]
    files = {
        f"{_stem(profile)}-{angle:.1f}.svg": _drawn(
            template(profile, math.radians(angle), options.laid), ", ".join(names)
        )
        for (profile, angle), names in wanted.items()
    }
    written = _write(options.out, files)
    near: list[OnPitch] = []
    for member in stand.members:
        pitch = pitch_of(member.profile)
        if member.role == "brace" and pitch is not None and not near:
            first, last = stand.nodes[member.start], stand.nodes[member.end]
            level, upright = math.dist(first[:2], last[:2]), abs(last[2] - first[2])
            if min(level, upright) > 0.0:
                near = list(braces_on_pitch(pitch, level, math.atan2(upright, level)))
    if options.json:
        said = {
            "steadfold": 1,
            "stand": stand.name,
            "pieces": [_plain_piece(each) for each in found.pieces],
            "stock": [
                {
                    "profile": name,
                    "bought_mm": round(plan.bought_mm, 3),
                    "bound_mm": round(plan.bound_mm, 3),
                    "optimal": plan.optimal,
                    "bars": [
                        {"stock_mm": cut.stock_mm, "pieces": [p.name for p in cut.pieces], "rest_mm": round(cut.rest_mm, 3)}
                        for cut in plan.cuts
                    ],
                }
                for name, plan in found.stock
            ],
            "rods": [{"name": name, "size": size, "length_mm": round(length, 3)} for name, size, length in found.rods],
            "on_pitch": [
                {"along": each.along, "down": each.down, "brace": each.brace, "brace_at_mm": each.brace_at_mm,
                 "drop_mm": each.drop_mm, "angle_deg": round(math.degrees(each.angle_rad), 4), "off_mm": round(each.off_mm, 4)}
                for each in near
            ],
            "files": written,
        }  # fmt: skip
        print(json.dumps(said, ensure_ascii=False))
    else:
        _say(stand.name, found, options.units)
        for each in near[:3]:
            off = in_units(f"off by {each.off_mm:+z.2f} mm", options.units)
            print(
                f"  braces on the holes: {each.along} along, {each.down} down, {each.brace} on the brace"
                f" ({math.degrees(each.angle_rad):.1f}°, {off})"
            )
        _say_files(options.out, written)
    return 0 if all(end.setting.reachable for piece in found.pieces for end in piece.ends) else 1


def _plain_piece(piece: CutPiece) -> dict[str, Any]:
    return {
        "name": piece.name,
        "profile": piece.profile,
        "long_mm": round(piece.long_mm, 3),
        "centre_mm": round(piece.centre_mm, 3),
        "between_nodes_mm": round(piece.node_mm, 3),
        "long_points_on_one_side": piece.same_side,
        "mass_kg": round(piece.mass_kg, 4),
        "ends": [
            {
                "from_square_deg": round(math.degrees(end.setting.from_square_rad), 4),
                "saw_deg": round(math.degrees(end.setting.set_rad), 4),
                "against_block": end.setting.against_block,
                "reachable": end.setting.reachable,
                "meets": end.meets,
                "say": end.setting.say,
            }
            for end in piece.ends
        ],
        "holes": [{"at_mm": round(h.at_mm, 3), "diameter_mm": h.diameter_mm, "how": h.how} for h in piece.holes],
    }


def _say(name: str, found: CutList, units: Units) -> None:
    from steadfold.quantities import in_units, show_length

    print(name)
    for piece in found.pieces:
        print(
            f"  {piece.name}, {piece.profile}: {show_length(piece.long_mm, units, 1 if units == 'mm' else 3)} over all"
        )
        for word, end in zip(("first end", "second end"), piece.ends, strict=True):
            print(f"      {word}: {in_units(end.setting.say, units)}" + (f", meets {end.meets}" if end.meets else ""))
        if any(end.setting.from_square_rad for end in piece.ends):
            side = "one side" if piece.same_side else "opposite sides"
            print(f"      long points on {side}")
        for hole in piece.holes:
            print(f"      hole at {show_length(hole.at_mm, units, 1 if units == 'mm' else 3)}: {in_units(hole.how, units)}")
    for rod, size, length in found.rods:
        print(f"  {rod}, {size} threaded rod: {show_length(length, units, 0 if units == 'mm' else 2)}")
    for profile, plan in found.stock:
        best = "no plan buys less" if plan.optimal else f"no plan buys less than {show_length(plan.bound_mm, units, 0)}"
        print(f"  {profile}: {show_length(plan.bought_mm, units, 0)} bought, {plan.used_share:.0%} used; {best}")
        for cut in plan.cuts:
            pieces = ", ".join(
                f"{p.name} {show_length(p.length_mm, units, 0 if units == 'mm' else 2)}" for p in cut.pieces
            )
            print(f"      {show_length(cut.stock_mm, units, 0)}: {pieces}; {show_length(cut.rest_mm, units, 0)} left")


def _drawn(made: Any, what: str) -> bytes:
    from steadfold.deliver.template_picture import template_svg

    return template_svg(made, what).encode("utf-8")


def _stem(profile: str) -> str:
    return "".join(c if c.isalnum() or c in ".-" else "-" for c in profile)


def _write(folder: str | None, files: dict[str, bytes]) -> list[str]:
    if folder is None or not files:
        return []
    from steadfold.deliver.writing import write_all

    write_all(folder, files)
    return sorted(files)


def _say_files(folder: str | None, written: list[str]) -> None:
    for name in written:
        print(f"{folder}/{name}")
