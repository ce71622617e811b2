"""A picture of a report as a file of its own: SVG with its words as words, or PNG at 200 dots an
inch.
"""

from __future__ import annotations

import struct
import zlib

from .pdf import FONTS, HERE

DOTS_AN_INCH = 200


def svg_file(svg: str, mark: str) -> bytes:
    """Return a picture as an SVG file in UTF-8; ``mark`` says which program and version made it."""
    return f'<?xml version="1.0" encoding="UTF-8"?>\n<!-- {mark} -->\n{svg}\n'.encode()


def png_file(svg: str, mark: str) -> bytes:
    """Return a picture as a PNG on white, drawn in the same letters everywhere."""
    import typst

    made: bytes = typst.compile(
        str(HERE / "picture.typ"),
        sys_inputs={"svg": svg},
        font_paths=[str(FONTS)],
        ignore_system_fonts=True,
        format="png",
        ppi=float(DOTS_AN_INCH),
    )
    return _with_comment(made, mark)


def _with_comment(png: bytes, mark: str) -> bytes:
    """Return a PNG with a text chunk after its header (PNG, third edition, 11.3.3.2)."""
    body = b"tEXtSoftware\x00" + mark.encode("latin-1", "replace")
    chunk = struct.pack(">I", len(body) - 4) + body + struct.pack(">I", zlib.crc32(body))
    header = 8 + 25  # the signature, and the first chunk, IHDR
    return png[:header] + chunk + png[header:]
