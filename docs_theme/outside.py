"""Links of the docs that leave the docs: right as files, but the site holds no code, so they become the file's name.

A link to a file that is not there stops the build, as every other broken link does.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from mkdocs.exceptions import PluginError

ROOT = Path(__file__).resolve().parents[1]
LINK = re.compile(r"\[([^\]]+)\]\(((?:\.\./)+[^)#]+)(?:#[^)]*)?\)")


def on_page_markdown(markdown: str, *, page: Any, **_: Any) -> str:
    """The page's text with each link out of the docs as words and a file name."""
    here = ROOT / "docs" / page.file.src_uri

    def named(found: re.Match[str]) -> str:
        target = (here.parent / found.group(2)).resolve()
        if (ROOT / "docs") in target.parents:
            return found.group(0)
        if not target.exists() or ROOT not in target.parents:
            raise PluginError(f"{page.file.src_uri}: there is no {found.group(2)}")
        name = target.relative_to(ROOT).as_posix()
        said = found.group(1)
        return f"`{name}`" if said.strip("`/") == name else f"{said} (`{name}`)"

    return LINK.sub(named, markdown)
