"""Files of the order folder as pictures to look at before they go out, in a child process."""

from __future__ import annotations

import io
import struct
import zlib
from collections.abc import Callable, Mapping

import numpy as np

Tell = Callable[[float, str], None]

DOTS_PER_MM = 130 / 25.4
"""A sheet of A4 is then about 1,075 pixels wide: its smallest letters can be read."""

POINTS_PER_MM = 72 / 25.4
MOST_PIXELS = 30_000_000


def pages_of(files: Mapping[str, bytes]) -> dict[str, int]:
    """How many pictures each file gives: the pages of a PDF, one for a drawing; other files are not in it."""
    from pypdfium2 import PdfDocument

    found = {}
    for name, data in files.items():
        if name.endswith(".pdf"):
            document = PdfDocument(data)
            found[name] = len(document)
            document.close()
        elif name.endswith((".dxf", ".svg")):
            found[name] = 1
    return found


def picture(tell: Tell, name: str, data: bytes, page: int) -> tuple[str, bytes]:
    """Media type and bytes of the picture of a page (from 0); raises `LookupError` where there is none."""
    if name.endswith(".svg") and page == 0:
        return "image/svg+xml", data
    if name.endswith(".dxf") and page == 0:
        return "image/svg+xml", _drawn(data)
    if name.endswith(".pdf"):
        return "image/png", _printed(data, page)
    raise LookupError(name)


def _printed(data: bytes, page: int) -> bytes:
    from pypdfium2 import PdfDocument

    document = PdfDocument(data)
    try:
        if not 0 <= page < len(document):
            raise LookupError(page)
        sheet = document[page]
        width, height = sheet.get_size()
        scale = DOTS_PER_MM / POINTS_PER_MM
        scale *= min(1.0, (MOST_PIXELS / (width * height * scale * scale)) ** 0.5)
        return png(np.asarray(sheet.render(scale=scale, rev_byteorder=True).to_numpy())[:, :, :3])
    finally:
        document.close()


def png(pixels: np.ndarray) -> bytes:
    """Pixels (height, width, 3) of 8 bits as a PNG (ISO/IEC 15948, colour type 2)."""
    high, wide, _ = pixels.shape
    # Each row begins with its filter: none.
    rows = np.concatenate([np.zeros((high, 1), np.uint8), pixels.reshape(high, 3 * wide)], axis=1)
    chunks = (
        (b"IHDR", struct.pack(">IIBBBBB", wide, high, 8, 2, 0, 0, 0)),
        (b"IDAT", zlib.compress(rows.tobytes(), 3)),
        (b"IEND", b""),
    )
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(d)) + kind + d + struct.pack(">I", zlib.crc32(kind + d)) for kind, d in chunks
    )


def _drawn(data: bytes) -> bytes:
    """A DXF as whoever reads it sees it, every layer, in ink on paper."""
    import ezdxf
    from ezdxf.addons.drawing import Frontend, RenderContext, layout, svg
    from ezdxf.addons.drawing.config import BackgroundPolicy, ColorPolicy, Configuration

    drawing = ezdxf.read(io.StringIO(data.decode("utf-8")))
    backend = svg.SVGBackend()
    looks = Configuration(background_policy=BackgroundPolicy.WHITE, color_policy=ColorPolicy.BLACK)
    Frontend(RenderContext(drawing), backend, config=looks).draw_layout(drawing.modelspace())
    return backend.get_string(layout.Page(0, 0, layout.Units.mm, layout.Margins.all(8))).encode("utf-8")
