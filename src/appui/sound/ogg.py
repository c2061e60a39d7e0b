"""OGG pages: a fixed serial number in place of the one libsndfile draws by chance, so that files can be compared.

Source: RFC 3533, section 6 (memory): a page starts with ``OggS``; its serial number is at byte 14, its checksum at
22, the number of segments at 26, then their lengths. The checksum is CRC-32 with polynomial 04C11DB7, not reflected,
starting and ending with 0, over the page with the checksum itself taken as 0.
"""

from __future__ import annotations

import zlib
from pathlib import Path

__all__ = ["page_checksum", "settle_serial"]

SERIAL = 1
_HEAD = 27
_MIRRORED = bytes(int(f"{byte:08b}"[::-1], 2) for byte in range(256))


def page_checksum(page: bytes) -> int:
    """The checksum of an OGG page whose own checksum is 0.

    zlib's CRC-32 has the same polynomial mirrored, and starts and ends with all bits set.
    """
    mirrored = zlib.crc32(page.translate(_MIRRORED), 0xFFFFFFFF) ^ 0xFFFFFFFF
    return int(f"{mirrored:032b}"[::-1], 2)


def settle_serial(file: Path) -> None:
    """Give every page of a single-stream OGG file the serial number 1, in place, a page at a time."""
    with file.open("r+b") as stream:
        while len(head := stream.read(_HEAD)) == _HEAD and head.startswith(b"OggS"):
            lengths = stream.read(head[26])
            page = bytearray(head + lengths + stream.read(sum(lengths)))
            page[14:18] = SERIAL.to_bytes(4, "little")
            page[22:26] = bytes(4)
            page[22:26] = page_checksum(bytes(page)).to_bytes(4, "little")
            stream.seek(-len(page), 1)
            stream.write(page)
            stream.flush()
