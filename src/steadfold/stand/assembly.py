"""In which order a stand goes together, and what must be propped until what is in.

Each step is tried on the frame as far as it stands: where it could still move under its own weight, it is propped.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from steadfold.mechanics import Loads, Mechanism
from steadfold.stand.records import Member, Stand, StandError
from steadfold.stand.statics import GRAVITY, Case, solved
from steadfold.stand.structure import built

ORDER = ("post", "leg", "arm", "beam", "rail", "brace", "crossbar", "member")
"""What is put up first: what others hang on."""


@dataclass(frozen=True)
class AssemblyStep:
    """One step: what to put up, how its joints are done, and what to prop until which step (number from 1)."""

    say: str
    parts: tuple[str, ...]
    prop: str
    prop_until: int | None


def assembly(stand: Stand) -> tuple[AssemblyStep, ...]:
    """The order of assembly. Raises StandError for a frame that does not stand even when complete."""
    built(stand).structure  # noqa: B018  (complete, it must stand)
    order = _ordered(stand)
    steps: list[AssemblyStep] = []
    for number, member in enumerate(order):
        until = None
        prop = ""
        if not _stable(stand, _together(stand, order[: number + 1], member)):
            later = range(number + 1, len(order))
            until = next((k for k in later if _stable(stand, _together(stand, order[: k + 1], member))), None)
            prop = f"prop {member.name} until {order[until].name if until is not None else 'the rods'} is in"
        steps.append(AssemblyStep(_words(stand, member), (member.name,), prop, None if until is None else until + 1))
    for rod in stand.tie_rods:
        steps.append(
            AssemblyStep(f"hang {rod.name} between {rod.start} and {rod.end}, nuts finger tight", (rod.name,), "", None)
        )
    if _in_channel(stand):
        first = "slide every channel nut in, oil-free, before an end is capped or butts against something"
        steps.insert(0, AssemblyStep(first, (), "", None))
        steps = [replace(step, prop_until=None if step.prop_until is None else step.prop_until + 1) for step in steps]
    steps.append(
        AssemblyStep("pull each joint to the side its load pushes it to, then tighten to its torque", (), "", None)
    )
    if stand.machine is not None:
        steps.append(
            AssemblyStep(f"put {stand.machine.name} on; measure how low each tip lies", (stand.machine.name,), "", None)
        )
    if stand.tie_rods:
        steps.append(
            AssemblyStep("level it (steadfold level), then tighten all again after ten hours of running", (), "", None)
        )
    return tuple(steps)


def _ordered(stand: Stand) -> list[Member]:
    """Members from the held ones outwards, by role; each hangs on something that is already up."""
    waiting = sorted(stand.members, key=lambda each: ORDER.index(each.role) if each.role in ORDER else len(ORDER))
    up: set[str] = {each.node for each in stand.held}
    ready: list[Member] = []
    while waiting:
        found = next((each for each in waiting if {each.start, each.end} & up), waiting[0])
        waiting.remove(found)
        ready.append(found)
        up |= {found.start, found.end} | _on(stand, found)
    return ready


def _on(stand: Stand, member: Member) -> set[str]:
    """Nodes that a member starts at, ends at or runs through."""
    ready = built(replace(stand, members=(member,), machine=None, tie_rods=()))
    names = {number: name for name, number in ready.node_of.items()}
    return {names[number] for _, number in ready.stations[0] if number in names}


def _together(stand: Stand, members: list[Member], member: Member) -> list[Member]:
    """The members that hang together with one of them."""
    touches = {each.name: _on(stand, each) for each in members}
    found = {member.name}
    reached = set(touches[member.name])
    while True:
        more = [each for each in members if each.name not in found and touches[each.name] & reached]
        if not more:
            return [each for each in members if each.name in found]
        for each in more:
            found.add(each.name)
            reached |= touches[each.name]


def _stable(stand: Stand, members: list[Member]) -> bool:
    """Whether these members alone stay where they are put."""
    part = replace(stand, members=tuple(members), tie_rods=(), machine=None)
    try:
        solved(built(part), [Case("", "", Loads(gravity_mm_s2=GRAVITY))])
    except (StandError, Mechanism):
        return False
    return True


def _in_channel(stand: Stand) -> bool:
    return any(joint.in_channel for member in stand.members for joint in member.joints)


def _words(stand: Stand, member: Member) -> str:
    held = {each.node: each.to for each in stand.held}
    places = []
    for node, joint in zip((member.start, member.end), member.joints, strict=True):
        if held.get(node) == "floor":
            places.append(f"stand its end at {node} on the floor")
        elif node in held:
            places.append(f"fix its end at {node} to the {held[node]}")
        elif not any(node in _on(stand, other) for other in stand.members if other.name != member.name):
            continue
        elif joint.kind == "welded" and joint.bolt is None:
            places.append(f"join its end at {node}")
        else:
            places.append(f"bolt its end at {node}, finger tight")
    return f"put up {member.name}: {'; '.join(places)}" if places else f"put up {member.name}"
