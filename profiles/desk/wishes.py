"""What the page wishes: a tree of settings as in a job file -> Job, or the faults with the field of each."""

import json
import re
from collections.abc import Mapping
from copy import deepcopy
from pathlib import Path
from typing import Any

from profiles.cuts.settings import DIGITS
from profiles.desk.fields import HIDDEN, NOT_HERE
from profiles.errors import JobError
from profiles.job import MANY, PARTS, Job
from profiles.jobfile import job_of
from profiles.values import dataclass

Tree = dict[str, Any]
"""Part -> keys and values, or a list of such tables."""

SOURCE = Path("settings")
"""What messages name as the place of a fault before the page leaves it out."""

MAX_TEXT = 2000
"""Characters of one text among the settings; the longest sensible one is the name of a board."""

MAX_DEPTH = 4
"""Tables and lists inside each other: a part, its tables, a list in a table."""


@dataclass(frozen=True, slots=True)
class Fault:
    """A value that cannot be."""

    part: str
    """Empty where no field is at fault alone."""
    key: str
    message: str


class WishError(JobError):
    """Settings with faults; the page shows each beside its field."""

    def __init__(self, message: str, faults: tuple[Fault, ...] = ()) -> None:
        super().__init__(message)
        self.faults = faults


def clean_tree(given: object) -> Tree:
    """The tree without the keys that the page does not set, and without what is not given. Raises WishError."""
    if not isinstance(given, dict):
        message = "The settings are not a table."
        raise WishError(message)
    tree: Tree = {}
    for part, section in given.items():
        if part not in PARTS:
            message = f"There are no settings called {str(part)[:40]!r}."
            raise WishError(message)
        if part in NOT_HERE and section:
            message = f"The page does not take the files that [[{part}]] names. Use stationer make for this job."
            raise WishError(message)
        tables = section if isinstance(section, list) else [section]
        if not all(isinstance(table, dict) for table in tables) or isinstance(section, list) != (part in MANY):
            message = f"The settings of {part!r} are not what a job file has."
            raise WishError(message)
        kept = [_clean_table(part, table) for table in tables]
        if part in MANY:
            tree[part] = kept
        elif kept[0] or part in {"body", "water", "drawings"}:
            tree[part] = kept[0]
    return tree


def _clean_table(part: str, table: Mapping[Any, Any]) -> Tree:
    kept = {
        key: value
        for key, value in table.items()
        if isinstance(key, str) and (part, key) not in HIDDEN and value is not None
    }
    for key, value in kept.items():
        _check_plain(part, key, value, MAX_DEPTH)
    word = kept.get("aerofoil") if part == "cutouts" else None
    if word and not DIGITS.fullmatch(str(word).strip()):
        message = "The page takes aerofoils by four digits, such as 2412. Use stationer make for one from a file."
        raise WishError(message, (Fault(part, "aerofoil", "expected four digits such as 2412"),))
    return kept


def _check_plain(part: str, key: str, value: object, depth: int) -> None:
    if isinstance(value, list) and depth:
        for item in value:
            _check_plain(part, key, item, depth - 1)
        return
    plain = isinstance(value, bool | int | float) or (isinstance(value, str) and len(value) <= MAX_TEXT)
    if not plain:
        message = f"{part}.{key[:40]}: expected a number or a text."
        raise WishError(message, (Fault(part, key[:40], "expected a number or a text"),))


def job_from(tree: Tree, hull: str, name: str = "") -> Job:
    """The job of a tree whose hull is in the file `hull`; `name` is what the user calls that file.

    Raises WishError with every fault.
    """
    whole = deepcopy(tree)
    whole["hull"] = whole.get("hull", {}) | {"file": hull}
    try:
        return job_of(whole, SOURCE)
    except JobError as error:
        raise _with_faults(error, hull, name) from None


def _with_faults(error: JobError, hull: str, name: str) -> WishError:
    lines = [line.strip() for line in str(error).splitlines()]
    faults = []
    shown = []
    for line in lines:
        text = line.removeprefix(f"{SOURCE.name}: ").replace(hull, name or "the hull")
        place = re.match(r"([a-z_]+)(?:\.\d+)?(?:\.([a-z_]+))?[.\d]*: (.*)", text)
        if place and place[1] in PARTS:
            faults.append(Fault(place[1], place[2] or "", place[3]))
        shown.append(text)
    return WishError("\n".join(shown), tuple(faults))


def read_job(text: Tree) -> tuple[Tree, str]:
    """A job file's tables -> the settings, and the name of the hull file without its folders. Raises WishError."""
    hull = text.get("hull")
    file = hull.get("file") if isinstance(hull, dict) else None
    if not isinstance(file, str) or not file:
        message = 'The job file names no hull. It needs a line such as file = "hull.stl" under [hull].'
        raise WishError(message)
    return clean_tree(text), last_name(file)


def last_name(path: str) -> str:
    """What stands behind the last folder of a path of any system."""
    return re.split(r"[/\\]", path)[-1]


BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")


def job_toml(tree: Tree, file: str) -> str:
    """The job as TOML: the settings that differ from the defaults, and the hull's file beside it.

    >>> print(job_toml({"foam": {"thickness": 40.0}}, "skerrywing.stl"), end="")
    [hull]
    file = "skerrywing.stl"
    <BLANKLINE>
    [foam]
    thickness = 40.0
    """
    whole = {"hull": {"file": file} | tree.get("hull", {})} | {part: tree[part] for part in PARTS if part in tree}
    whole["hull"] = {"file": file} | tree.get("hull", {})
    blocks = []
    for part, section in whole.items():
        for table in section if isinstance(section, list) else [section]:
            head = f"[[{part}]]" if part in MANY else f"[{part}]"
            lines = [f"{_toml_key(key)} = {_toml_value(value)}" for key, value in table.items() if value is not None]
            blocks.append("\n".join([head, *lines]))
    return "\n\n".join(blocks) + "\n"


def _toml_key(key: str) -> str:
    return key if BARE_KEY.fullmatch(key) else _toml_text(key)


def _toml_value(value: Any) -> str:  # noqa: ANN401 - any plain value
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_toml_value(item) for item in value) + "]"
    return _toml_text(value)


def _toml_text(text: str) -> str:
    """A basic string of TOML: its escapes are those of JSON."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
