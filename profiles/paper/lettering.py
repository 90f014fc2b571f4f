"""How wide a line of text is, so that labels can be kept apart before anything is rendered.

The pages are lettered in DejaVu Sans. Its advance widths (units of 1/2048 em, characters 32 to 126) stand here so that
placing a label needs no font file; a test holds them against the installed font.
"""

import functools

FAMILY = "DejaVu Sans"

UNITS_PER_EM = 2048

ASCENT = 0.80
"""em; the highest capital with an accent or bracket reaches 0.79."""

DESCENT = 0.24
"""em; the lowest descender of g, j, p, q, y and the brackets."""

CAP_HEIGHT = 0.729
"""em; height of a capital letter."""

_REGULAR = """
    651 821 942 1716 1303 1946 1597 563 799 799 1024 1716 651 739 651 690 1303 1303 1303 1303 1303 1303 1303
    1303 1303 1303 690 690 1716 1716 1716 1087 2048 1401 1405 1430 1577 1294 1178 1587 1540 604 604 1343 1141
    1767 1532 1612 1235 1612 1423 1300 1251 1499 1401 2025 1403 1251 1403 799 690 799 1716 1024 1024 1255 1300
    1126 1300 1260 721 1300 1298 569 569 1186 569 1995 1298 1253 1300 1300 842 1067 803 1298 1212 1675 1212 1212
    1075 1303 690 1303 1716
"""
_BOLD = """
    713 934 1067 1716 1425 2052 1786 627 936 936 1071 1716 778 850 778 748 1425 1425 1425 1425 1425 1425 1425
    1425 1425 1425 819 819 1716 1716 1716 1188 2048 1585 1561 1503 1700 1399 1399 1681 1714 762 762 1587 1305
    2038 1714 1741 1501 1741 1577 1475 1397 1663 1585 2259 1579 1483 1485 936 748 936 1716 1024 1024 1382 1466
    1214 1466 1389 891 1466 1458 702 702 1362 702 2134 1458 1407 1466 1466 1010 1219 979 1458 1335 1892 1321
    1335 1192 1458 748 1458 1716
"""


def _table(text: str) -> dict[str, int]:
    return {chr(32 + n): int(width) for n, width in enumerate(text.split())}


ADVANCES = {False: _table(_REGULAR), True: _table(_BOLD)}
"""bold -> character -> advance width in 1/2048 em."""


@functools.lru_cache(maxsize=4096)
def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Width in mm of a line of text at a font size in mm.

    A character outside the table counts as a full em, which is wider than any letter of the font's Latin part.
    """
    table = ADVANCES[bold]
    return sum(table.get(char, UNITS_PER_EM) for char in text) * size / UNITS_PER_EM
