"""Long stock: strut channel, T-slot profile, tube, bar, angle and timber, as outlines to compute from."""

from dataclasses import dataclass
from functools import cache
from typing import Any

from steadfold.catalogue.fasteners import MM_PER_INCH, N_PER_LBF
from steadfold.catalogue.sources import Citation, citation
from steadfold.catalogue.tables import NotInCatalogue, key_of, table

NMM_PER_FT_LB = N_PER_LBF * 12.0 * MM_PER_INCH


@dataclass(frozen=True)
class StrutChannel:
    """A lipped C, its slot to the front; outside dimensions in mm.

    `width_mm` is the face with the slot, `height_mm` from back to face, `lip_mm` the depth of the inward
    return. `count` is 2 for two welded back to back. `hole_mm` is length and width of the slots punched in
    the back at `pitch_mm`; `punched_share` of area and second moment is left in the punched channel.
    """

    id: str
    title: str
    width_mm: float
    height_mm: float
    thickness_mm: float
    slot_mm: float
    lip_mm: float
    inside_radius_mm: float
    material: str
    hole_mm: tuple[float, float]
    pitch_mm: float
    punched_share: float
    count: int
    source: Citation
    punched_source: Citation


@dataclass(frozen=True)
class TSlot:
    """A square T-slot extrusion. Area and second moment are ranges over makers; rate with the low end.

    Its outline differs from maker to maker, so it is not computed from geometry.
    """

    id: str
    title: str
    side_mm: float
    slot_mm: float
    bore_mm: float
    area_range_mm2: tuple[float, float]
    second_moment_range_mm4: tuple[float, float]
    nut: str
    material: str
    source: Citation

    @property
    def area_mm2(self) -> float:
        """The low end of the range: what may be counted on without the maker's own figure."""
        return self.area_range_mm2[0]

    @property
    def second_moment_mm4(self) -> float:
        """The low end of the range: what may be counted on without the maker's own figure."""
        return self.second_moment_range_mm4[0]


@dataclass(frozen=True)
class SquareTube:
    """Cold formed square tube; corners rounded by 2 t outside and t inside."""

    id: str
    title: str
    side_mm: float
    thickness_mm: float
    material: str
    source: Citation

    @property
    def outside_radius_mm(self) -> float:
        """Radius of the outside corners: 2 t, as EN 10219-2 takes it up to 6 mm (recalled)."""
        return 2.0 * self.thickness_mm


@dataclass(frozen=True)
class FlatBar:
    """A rectangle of width by thickness."""

    id: str
    title: str
    width_mm: float
    thickness_mm: float
    material: str
    source: Citation


@dataclass(frozen=True)
class RoundBar:
    """A full circle."""

    id: str
    title: str
    diameter_mm: float
    material: str
    source: Citation


@dataclass(frozen=True)
class Angle:
    """An equal angle with a rounded root."""

    id: str
    title: str
    leg_mm: float
    thickness_mm: float
    root_radius_mm: float
    material: str
    source: Citation


@dataclass(frozen=True)
class Timber:
    """A sawn or planed timber of a species group or class (see `wood`)."""

    id: str
    title: str
    width_mm: float
    depth_mm: float
    species: str
    source: Citation


Profile = StrutChannel | TSlot | SquareTube | FlatBar | RoundBar | Angle | Timber


@dataclass(frozen=True)
class StrutNut:
    """Published loads of one channel nut in one channel, already divided by `factor`.

    `slip_n` along the channel, `pull_out_n` straight out of its slot, both at `torque_nmm`.

    Within `end_distance_mm` of a channel end only `end_share` of it counts.
    """

    size: str
    channel: str
    torque_nmm: float
    slip_n: float
    pull_out_n: float
    factor: float
    end_distance_mm: float
    end_share: float
    note: str
    source: Citation


@dataclass(frozen=True)
class TNut:
    """Pull on one nut in a slot of 8 mm, by weight of the profile; ultimate-like, no factor inside."""

    profile_class: str
    pull_out_n: float
    source: Citation


def names(kind: type[Profile] | None = None) -> tuple[str, ...]:
    """All profile ids, or those of one kind (`StrutChannel`, `SquareTube` ...)."""
    return tuple(name for name, each in _profiles().items() if kind is None or isinstance(each, kind))


def profile(name: str) -> Profile:
    """The profile with this id; raises NotInCatalogue.

    >>> profile("strut 41x41x2.5").thickness_mm
    2.5
    """
    by_key = {key_of(each): each for each in _profiles()}
    found = by_key.get(key_of(name))
    if found is None:
        raise NotInCatalogue("profile", name, _profiles())
    return _profiles()[found]


def strut_nut(size: str, channel: str) -> StrutNut | None:
    """The published loads of a channel nut, or None: then its capacity is unproven.

    `size` is the bolt ('1/2'), `channel` '12 ga' or '14 ga'.
    """
    group = table("profiles")["strut_nut"]
    torques = {row["size"]: row["ft_lb"] for row in group["torque_rows"]}
    for row in group["load_rows"]:
        if (row["size"], row["channel"]) == (size, channel):
            return StrutNut(
                size,
                channel,
                torques[size] * NMM_PER_FT_LB,
                row["slip_lbf"] * N_PER_LBF,
                row["pull_out_lbf"] * N_PER_LBF,
                row["factor"],
                group["end_distance_in"] * MM_PER_INCH,
                group["end_share"],
                group["note"],
                citation(group["source"]),
            )
    return None


def strut_nut_torque_nmm(size: str) -> float:
    """Tightening torque of a channel nut's bolt, N mm; NotInCatalogue for sizes without a published one."""
    torques = {row["size"]: float(row["ft_lb"]) for row in table("profiles")["strut_nut"]["torque_rows"]}
    if size not in torques:
        raise NotInCatalogue("strut nut with a published torque", size, torques)
    return torques[size] * NMM_PER_FT_LB


def t_nut(profile_class: str) -> TNut:
    """Pull-out rating of a nut in a slot of 8 mm, for an 'economy', 'light' or 'standard' profile."""
    group = table("profiles")["t_nut"]
    rows = {row["profile_class"]: float(row["pull_out_kn"]) for row in group["rows"]}
    if profile_class not in rows:
        raise NotInCatalogue("weight of T-slot profile", profile_class, rows)
    return TNut(profile_class, rows[profile_class] * 1000.0, citation(group["source"]))


def t_nut_slip_n(profile_class: str, preload_n: float) -> float:
    """Slip of one T-nut along its slot that may be counted on, N: mu times preload, halved.

    The preload counts no further than the nut's own pull-out rating. Engineering judgement, labelled so.
    """
    group = table("profiles")["t_nut"]
    counted = min(preload_n, t_nut(profile_class).pull_out_n)
    return float(group["friction"]) * counted / float(group["slip_factor"])


def t_nut_slip_source() -> Citation:
    """Where the slip rule of T-nuts comes from."""
    return citation(table("profiles")["t_nut"]["slip_source"])


@cache
def _profiles() -> dict[str, Profile]:
    data = table("profiles")
    found: dict[str, Profile] = {}
    for kind, build in _BUILDERS.items():
        group = data[kind]
        origin = citation(group["source"])
        for row in group["rows"]:
            found[row["id"]] = build(row, origin)
    return found


def _strut(row: dict[str, Any], origin: Citation) -> Profile:
    return StrutChannel(
        row["id"],
        row["title"],
        row["width"],
        row["height"],
        row["thickness"],
        row["slot"],
        row["lip"],
        row["inside_radius"],
        row["material"],
        (row["hole"][0], row["hole"][1]),
        row["pitch"],
        row["punched"],
        row.get("count", 1),
        origin,
        citation(table("profiles")["strut"]["punched_source"]),
    )


def _t_slot(row: dict[str, Any], origin: Citation) -> Profile:
    area, second = row["area"], row["second_moment"]
    return TSlot(
        row["id"],
        row["title"],
        row["side"],
        row["slot"],
        row["bore"],
        (area[0], area[1]),
        (second[0], second[1]),
        row["nut"],
        row["material"],
        origin,
    )


def _tube(row: dict[str, Any], origin: Citation) -> Profile:
    return SquareTube(row["id"], row["id"], row["side"], row["thickness"], row["material"], origin)


def _flat(row: dict[str, Any], origin: Citation) -> Profile:
    return FlatBar(row["id"], row["id"], row["width"], row["thickness"], row["material"], origin)


def _round(row: dict[str, Any], origin: Citation) -> Profile:
    return RoundBar(row["id"], row["id"], row["diameter"], row["material"], origin)


def _angle(row: dict[str, Any], origin: Citation) -> Profile:
    return Angle(row["id"], row["id"], row["leg"], row["thickness"], row["root_radius"], row["material"], origin)


def _timber(row: dict[str, Any], origin: Citation) -> Profile:
    return Timber(row["id"], row["id"], row["width"], row["depth"], row["species"], origin)


_BUILDERS = {
    "strut": _strut,
    "t_slot": _t_slot,
    "square_tube": _tube,
    "flat_bar": _flat,
    "round_bar": _round,
    "angle": _angle,
    "timber": _timber,
}
