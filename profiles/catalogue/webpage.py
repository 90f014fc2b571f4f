"""catalogue.html: the table of all tasks with pictures and links, as one page without any script.

Pictures and links lead into the folders of the results, so the page moves with them.
"""

import os
from collections.abc import Iterator, Sequence
from html import escape
from pathlib import Path
from urllib.parse import quote

from profiles.catalogue.rows import Row, State, count, printable, seen_from
from profiles.units import bare_length, bare_volume, in_printed_units, printed_unit, volume_unit

MARK = "<!-- catalogue by stationer -->"
"""What the page begins with behind its doctype, so that no other page is ever overwritten."""

STYLE = """
body { font: 16px/1.45 system-ui, sans-serif; margin: 2rem auto; max-width: 76rem; padding: 0 1rem;
       color: #1d2530; background: #fff; }
h1 { font-size: 1.6rem; margin-bottom: .2rem; }
.scroll { overflow-x: auto; }
table { border-collapse: collapse; width: 100%; margin-top: 1rem; }
th, td { padding: .5rem .7rem; text-align: right; vertical-align: top; border-bottom: 1px solid #d5dbe2; }
th { border-bottom-width: 2px; vertical-align: bottom; font-weight: 600; }
.words { text-align: left; }
img { display: block; width: 11rem; height: auto; background: #fff; }
.failed td { background: #fdf1ee; }
.why { color: #8c2a12; }
summary { cursor: pointer; }
details ul { margin: .3rem 0 0; padding-left: 1.1rem; text-align: left; max-width: 26rem; }
a { color: #0b5394; white-space: nowrap; }
@media (prefers-color-scheme: dark) {
  body { color: #e4e8ee; background: #14181d; } th, td { border-color: #3a434e; } a { color: #8ec1f5; }
  .failed td { background: #351d17; } .why { color: #ffb59f; }
}
@media print { .scroll { overflow: visible; } }
"""

LINKS = (("templates.pdf", "templates"), ("job-book.pdf", "job book"))
"""Files of a result that the page leads to, and what it calls them."""

PICTURE = "body.png"


def catalogue_html(rows: Sequence[Row], root: Path, title: str) -> Iterator[str]:
    """The page in pieces, lengths in the printed unit; links are seen from `root`."""
    head = (
        f'<!doctype html>\n{MARK}\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(printable(title))}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n"
    )
    yield head + f"<h1>{escape(printable(title))}</h1>\n<p>{escape(summary(rows))}</p>\n"
    yield (
        "<p>Print templates at 100 % and measure both bars before you cut anything. Read the cautions in each job book "
        "before you switch the wire on.</p>\n"
    )
    yield f'<div class="scroll">\n<table>\n<thead><tr>{_headings()}</tr></thead>\n<tbody>\n'
    for row in rows:
        yield _row(row, root)
    yield "</tbody>\n</table>\n</div>\n</body>\n</html>\n"


def summary(rows: Sequence[Row]) -> str:
    """What became of all tasks, in a sentence."""
    made, kept = count(rows, State.MADE), count(rows, State.KEPT)
    words = [f"{made} of {len(rows)} jobs made"]
    words += [f"{kept} kept as they were"] if kept else []
    words += [f"{failed} not made"] if (failed := count(rows, State.FAILED)) else []
    words += [f"{left} not begun or not ended"] if (left := count(rows, State.LEFT)) else []
    return ", ".join(words) + "."


def _headings() -> str:
    unit = printed_unit()
    numbers = ("foam " + unit, "length " + unit, "blocks", "sheets", f"most to sand {unit}", f"to sand {volume_unit()}")
    words = "".join(f'<th class="words">{name}</th>' for name in ("", "job"))
    return words + "".join(f"<th>{name}</th>" for name in (*numbers, "seconds", "warnings"))


def _row(row: Row, root: Path) -> str:
    if not row.folder:
        why = escape(in_printed_units(row.message))
        name = f'<td class="words"><b>{escape(row.name)}</b><br>{escape(Path(row.source).name)}</td>'
        return f'<tr class="failed"><td></td>{name}<td class="words why" colspan="8">{why}</td></tr>\n'
    folder = quote(os.fsencode(seen_from(root, row.folder)), safe="/:")
    links = " &middot; ".join(f'<a href="{folder}/{file}">{name}</a>' for file, name in LINKS)
    picture = (
        f'<a href="{folder}/templates.pdf"><img src="{folder}/{PICTURE}" loading="lazy" '
        f'alt="{escape(row.name)}: the body in blocks"></a>'
    )
    cells = (
        _length(row.foam, 1),
        _length(row.length, 1),
        _count(row.blocks),
        _count(row.sheets),
        _length(row.sanding, 2),
        "" if row.sanding_volume is None else bare_volume(row.sanding_volume),
        "" if row.seconds is None else f"{row.seconds:.1f}",
        _warnings(row.warnings),
    )
    name = f"<b>{escape(row.name)}</b><br>{escape(Path(row.source).name)}<br>{links}<br>plan {escape(row.fingerprint)}"
    numbers = "".join(f"<td>{cell}</td>" for cell in cells)
    return f'<tr><td class="words">{picture}</td><td class="words">{name}</td>{numbers}</tr>\n'


def _length(value: float | None, decimals: int) -> str:
    return "" if value is None else bare_length(value, decimals)


def _count(value: int | None) -> str:
    return "" if value is None else str(value)


def _warnings(sentences: Sequence[str]) -> str:
    if not sentences:
        return "0"
    items = "".join(f"<li>{escape(in_printed_units(sentence))}</li>" for sentence in sentences)
    return f"<details><summary>{len(sentences)}</summary><ul>{items}</ul></details>"
