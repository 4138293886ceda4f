"""What a job says of a stand, as fields to fill in."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from steadfold.job.models import LaterTable
from steadfold.page.form import Field, field


def stand_form(table: LaterTable) -> list[dict[str, Any]]:
    """What the file says of a stand as fields, table by table; lists of places are left to an editor."""
    groups: list[dict[str, Any]] = []
    _collect(groups, "", table.values, list(table.path))
    return groups


def _collect(groups: list[dict[str, Any]], title: str, values: Mapping[str, Any], way: list[str | int]) -> None:
    fields: list[Field] = []
    group = {"title": title, "fields": fields}
    groups.append(group)
    for key, value in values.items():
        label = key.replace("_", " ")
        if isinstance(value, (str, int, float)) and key not in ("name", "note"):
            kind = "text" if isinstance(value, str) else "flag" if isinstance(value, bool) else "count"
            fields.append(field(key, way, label, "", kind, values))
        elif isinstance(value, Mapping):
            _collect(groups, f"{title} {label}".strip(), value, [*way, key])
        elif isinstance(value, list) and value and all(isinstance(each, Mapping) for each in value):
            for number, each in enumerate(value):
                named = each.get("say") or each.get("at") or each.get("what") or each.get("name")
                more = named if isinstance(named, str) else str(number + 1)
                _collect(groups, f"{title} {label}: {more}".strip(), each, [*way, key, number])
    if not fields:
        groups.remove(group)
