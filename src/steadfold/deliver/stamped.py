"""DXF and STEP with job, revision, fingerprint and verdict in their heads, where machines pass them over."""

from __future__ import annotations

from datetime import datetime

from steadfold.deliver.dxf_file import dxf_text
from steadfold.deliver.sheets.head import Head
from steadfold.deliver.step_file import step_bytes, step_string
from steadfold.sheet.flat import FlatPattern
from steadfold.sheet.part import Part

_STEP_DESCRIPTION = "FILE_DESCRIPTION(('Folded sheet metal part')"


def properties_of(head: Head) -> list[tuple[str, str]]:
    """Names and values that both files carry."""
    found = [
        ("job", head.job),
        ("part", head.part),
        ("revision", head.revision),
        ("quantity", str(head.quantity)),
        ("job fingerprint", head.fingerprint),
    ]
    if head.stamp:
        found.append(("verdict", f"{head.stamp}, written out because it was asked for in words"))
    return found


def stamped_dxf(part: Part, flat: FlatPattern, head: Head) -> bytes:
    """The DXF of a flat with its properties as custom properties of the header ($CUSTOMPROPERTY); CUT is untouched."""
    return stamped(dxf_text(part, flat), head).encode("utf-8")


def stamped(text: str, head: Head) -> str:
    """The text of a DXF with its properties in its header."""
    end = text.index("  0\nENDSEC\n")
    lines = "".join(
        f"  9\n$CUSTOMPROPERTYTAG\n  1\n{_one_line(name)}\n  9\n$CUSTOMPROPERTY\n  1\n{_one_line(value)}\n"
        for name, value in properties_of(head)
    )
    return text[:end] + lines + text[end:]


def stamped_step(part: Part, head: Head, date: datetime) -> bytes:
    """The STEP file of a part with its properties in the description of the header (ISO 10303-21)."""
    data = step_bytes(part, head.part, date).decode("ascii")
    if data.count(_STEP_DESCRIPTION) != 1:
        raise AssertionError("the head of the STEP file is not the one known here")
    said = ",\n  ".join(step_string(f"{name}: {_one_line(value)}") for name, value in properties_of(head))
    return data.replace(_STEP_DESCRIPTION, f"{_STEP_DESCRIPTION[:-1]},\n  {said})").encode("ascii")


def _one_line(text: str) -> str:
    return " ".join(text.split())
