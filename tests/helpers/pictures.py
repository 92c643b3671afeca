"""Pictures for tests: the demo's own small photographs, plain ones made here, and things that are no picture."""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path

import numpy as np
from PIL import Image

DEMO = Path(__file__).resolve().parents[2] / "demo" / "photographs"
POCKET_AND_STRAP = "04-pocket-strap-pins-card.jpg"
"""A tracing of two pieces with a bank card for scale; it takes some three seconds to trace."""


def demo_photograph(name: str = POCKET_AND_STRAP) -> bytes:
    """Return one of the demo's photographs."""
    return (DEMO / name).read_bytes()


def plain_jpeg(width: int = 800, height: int = 600, grey: int = 200) -> bytes:
    """Return a picture of nothing: large enough to be taken in, and nothing to trace on it."""
    out = io.BytesIO()
    Image.fromarray(np.full((height, width, 3), grey, np.uint8)).save(out, "JPEG")
    return out.getvalue()


def bomb_png(width: int = 20_000, height: int = 20_000) -> bytes:
    """Return a PNG of a few hundred bytes whose head promises 400 million pixels (PNG, ISO/IEC 15948, 11.2.2)."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    rows = zlib.compress(b"\0" * 1000)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")
