"""Messages between the server and a bench: a table as JSON, then bytes that are handed on as they are.

    4 bytes length of the table   4 bytes length of the content   table   content

A bench has read files of strangers, so the server takes nothing from it that could run: no pickles.
"""

import json
import struct
from typing import Any

HEAD = struct.Struct(">II")
"""Lengths of the two parts."""

MOST_BYTES = 64 * 1024 * 1024
"""A longer message is a fault of the other side; a coarse picture has a hundred thousand."""

Message = dict[str, Any]


def packed(message: Message, content: bytes = b"") -> bytes:
    """A message as bytes."""
    table = json.dumps(message, ensure_ascii=False, allow_nan=False).encode(errors="surrogatepass")
    return HEAD.pack(len(table), len(content)) + table + content


def lengths(head: bytes) -> tuple[int, int]:
    """Lengths of table and content. Raises ValueError for more than MOST_BYTES."""
    table, content = HEAD.unpack(head)
    if table + content > MOST_BYTES:
        message = f"a message of {table + content} bytes"
        raise ValueError(message)
    return table, content


def table_of(text: bytes) -> Message:
    """The table of a message."""
    table: Message = json.loads(text.decode(errors="surrogatepass"))
    return table
