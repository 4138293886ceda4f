"""Seams of a part as the job draws them: which edges meet, and what joins them."""

from __future__ import annotations

from steadfold.job.fields import Fields
from steadfold.job.uses import read_capacity
from steadfold.job.wording import unknown
from steadfold.sheet.seams import HOWS, USUAL_GAP_MM, DrawnSeam
from steadfold.sheet.tree import PanelTree, TreeError

MOST_SEAMS = 200

WIDEST_GAP_MM = 10.0
"""Edges further apart are bridged by no weld (judgement)."""

OF_WELDS, OF_FASTENERS = ("throat",), ("pitch", "inset", "fastener", "grade", "capacity")


def read_seams(fields: Fields) -> tuple[DrawnSeam, ...]:
    """The `[[part.seam]]` tables that can be read; what is wrong is noted."""
    return tuple(each for table in fields.tables("seam", MOST_SEAMS) for each in _seam(table))


def _seam(table: Fields) -> tuple[DrawnSeam, ...]:
    mark = table.notebook.mark
    panel = table.text("panel", required='"left leg", the panel whose edge is joined')
    edge = _edge(table, "edge")
    if "edge" not in table:
        table.missing("edge", '"far", the edge of that panel that is joined')
    to = table.text("to", required='"back", the panel it is joined to')
    to_edge = _edge(table, "to_edge")
    how = table.choice("how", HOWS, required=True)
    gap = table.measure("length", "gap", default=USUAL_GAP_MM, low=0.0, high=WIDEST_GAP_MM)
    throat, pitch = table.length("throat"), table.length("pitch")
    inset = table.length("inset", low=0.0)
    fastener, grade = table.text("fastener"), table.text("grade")
    capacity = read_capacity(table)
    table.done()
    for key in OF_FASTENERS if how == "welded" else OF_WELDS:
        if how is not None and key in table:
            right = "bolts and rivets" if how == "welded" else "a weld"
            table.wrong(key, f'"{key}" belongs to {right}, and this seam is {how}')
    if table.notebook.mark != mark or panel is None or edge is None or to is None or how is None:
        return ()
    return (
        DrawnSeam(
            panel,
            edge,
            to,
            how,
            to_edge,
            gap if gap is not None else USUAL_GAP_MM,
            throat,
            pitch,
            inset or 0.0,
            fastener,
            grade,
            capacity.shear_n if capacity is not None else None,
            capacity.tension_n if capacity is not None else None,
            capacity.source if capacity is not None else "",
        ),
    )


def _edge(table: Fields, key: str) -> str | int | None:
    value = table.raw(key)
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, (str, int)):
        table.wrong(key, "an edge is named (left, right, bottom, top; near, far) or numbered from 0")
        return None
    edge = value.strip().casefold() if isinstance(value, str) else value
    if (isinstance(edge, str) and (not edge.isascii() or len(edge) > 20)) or (
        isinstance(edge, int) and abs(edge) > 10**6
    ):
        table.wrong(key, "no panel has an edge of that name")
        return None
    return edge


def check_seams(fields: Fields, tree: PanelTree, seams: tuple[DrawnSeam, ...]) -> None:
    """Note seams of panels or edges that the tree does not have. Whether the edges meet is seen when it is folded."""
    panels = {panel.name: panel for panel in tree.panels}
    for number, seam in enumerate(seams):
        here = (*fields.steps, "seam", number)
        for key, name, edge_key, edge in (
            ("panel", seam.panel, "edge", seam.edge),
            ("to", seam.to, "to_edge", seam.to_edge),
        ):
            if name not in panels:
                fields.notebook.note((*here, key), unknown(name, list(panels), "a panel of this part"))
                continue
            try:
                if edge is not None:
                    panels[name].edge_line(edge)
            except TreeError as error:
                fields.notebook.note((*here, edge_key), str(error))
        if seam.panel == seam.to and seam.panel in panels:
            fields.notebook.note((*here, "to"), f'panel "{seam.panel}" cannot be joined to itself')
