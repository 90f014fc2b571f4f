"""Job files, printers and boards: every field of the wrong type, out of range, contradictory, unknown, enormous."""

from tests.corpus.case import Case, Content, hull, stl
from tests.corpus.geometry import box

KIND, PRINTERS, BOARDS = "job files", "printers", "boards"

HULL = '[hull]\nfile = "hull.stl"\n'

NUMBERS = ('"thick"', "[1]", "true", "nan", "inf", "-1e300", "1e300", "1979-05-27", '"3,5"', '"5 parsec"', '""', "{}")
"""What no length may be."""

LENGTHS = {
    "hull": ("length", "datum"),
    "foam": ("thickness", "min_block", "fit"),
    "template": ("skin", "kerf", "kerf_test", "wire", "allowance", "pin", "marks", "growth"),
    "paper": ("margin", "overlap", "bar_across", "bar_up"),
    "cutting": ("kerf", "trim", "glue", "smallest_offcut"),
    "wire": ("diameter", "span", "in_foam"),
}

WORDS = {
    "hull": ("unit", "length_axis", "up", "nose", "mirror"),
    "foam": ("odd",),
    "template": ("box",),
    "paper": ("size", "orientation"),
    "cutting": ("grain",),
}

LISTS = {"hull": ("bodies",), "foam": ("breaks",), "template": ("gauges",)}


def _job(name: str, text: str | bytes, *says: str, kind: str = KIND, code: int = 3, alone: bool = False) -> Case:
    content = text.encode() if isinstance(text, str) else text
    files: dict[str, Content] = {"job.toml": content, "hull.stl": stl(box(200, 80, 60))}
    return Case(kind, name, files, ("make", "--out", "out", "job.toml"), code, says, alone=alone)


def _part(part: str, key: str, value: str) -> str:
    """A job with one value of its own; the foam is given unless it is what is wrong."""
    texts = {"hull": 'file = "hull.stl"\n', "foam": "thickness = 40\n", part: ""}
    if part == "hull":
        texts["hull"] = 'file = "hull.stl"\n' if key != "file" else ""
    if part == "foam" and key != "thickness":
        texts["foam"] = "thickness = 40\n"
    texts[part] += f"{key} = {value}\n"
    return "".join(f"[{name}]\n{text}" for name, text in texts.items())


def cases() -> list[Case]:
    """All of these kinds."""
    return [
        *_types(),
        *_ranges(),
        *_contradictions(),
        *_texts(),
        *_references(),
        *_enormous(),
        *_printers(),
        *_boards(),
    ]


def _types() -> list[Case]:
    """For each field a few values of the wrong type; which of them a length gets, its place in the table says."""
    lengths = [(part, key) for part, keys in LENGTHS.items() for key in keys]
    fields = [(part, key, value) for n, (part, key) in enumerate(lengths) for value in NUMBERS[n % 4 :: 4]]
    fields += [
        (part, key, value)
        for part, keys in WORDS.items()
        for key in keys
        for value in ("3", "true", '"sideways"', '["x"]')
    ]
    fields += [
        (part, key, value)
        for part, keys in LISTS.items()
        for key in keys
        for value in ("1", '"1"', '["one"]', "[nan]", "[[1]]")
    ]
    fields += [("hull", "solid", value) for value in ("3", '"yes"', "[]")]
    parts = ("hull", "foam", "template", "paper", "output", "cutting", "wire")
    return [
        *(_job(f"{part}.{key} = {value}", _part(part, key, value), f"{part}.{key}") for part, key, value in fields),
        *(_job(f"{part} is a number", f"{part} = 3\n{'' if part == 'hull' else HULL}", f"{part}:") for part in parts),
    ]


def _ranges() -> list[Case]:
    wrong = {
        ("hull", "length"): ("0", "-5", "200000"), ("hull", "scale"): ("0", '"1:0"', '"0:12"', "-1", "1e9", "nan", '"1:1:1"', '"1..2:3"'),
        ("hull", "bodies"): ("[0]", "[-1]", "[9]", "[1.5]"), ("hull", "datum"): ("1e9",),
        ("hull", "turn"): ('"z=90"', '"x=-120"', '"w=3"', '"z=nan"'), ("hull", "bridge"): ("-1", "5000", "nan"), ("hull", "narrowest"): ("0", "-1"),
        ("foam", "thickness"): ("0", "-40", "1e6"), ("foam", "min_block"): ("-1", "41"), ("foam", "fit"): ("0", "101"),
        ("foam", "breaks"): ("[-5]", "[0]", "[200]", "[5000]"),
        ("template", "skin"): ("-1", "101"), ("template", "pin"): ("0", "21"), ("template", "marks"): ("0.01",),
        ("template", "allowance"): ("501",), ("template", "growth"): ("-1", "51"), ("template", "gauges"): ("[5000]", "[-1]"),
        ("paper", "size"): ('"A9"', '"50x50"', '"9000x9000"', '"0x0"', '"210"', '"1e3x1e3x1e3"', '"210.1.1x300"'),
        ("cutting", "layers"): ("0", "7"), ("cutting", "seconds"): ("0", "-1", "1e9", "nan"),
        ("wire", "gauge"): ("-1", "99"), ("wire", "temperature"): ("0", "-300", "5000", "nan"), ("wire", "supply"): ("0", "1e9"),
    }  # fmt: skip
    return [
        _job(
            f"{part}.{key} = {value}",
            _part(part, key, value),
            key if key in _BY_WORD else f"{part}.{key}" if key not in _LATER else "",
        )
        for (part, key), values in wrong.items()
        for value in values
    ]


_BY_WORD = {"breaks", "temperature", "supply"}
"""Faults that a sentence of the plan or of the wire describes, without the key's full name."""

_LATER = {"bodies", "min_block", "breaks", "gauges", "datum", "bridge"}
"""Faults of these may show only when the hull is known; their messages use the words of the hull."""


def _contradictions() -> list[Case]:
    foam = "[foam]\nthickness = 40\n"
    return [
        _job("length and scale", '[hull]\nfile = "hull.stl"\nlength = 300\nscale = "1:2"\n', "not both"),
        _job("length and up along one axis", '[hull]\nfile = "hull.stl"\nlength_axis = "z"\nup = "-z"\n', "must differ"),
        _job("kerf and its test", HULL + foam + "[template]\nkerf = 1\nkerf_test = 98\n", "not both"),
        _job("gauge and diameter", HULL + foam + "[wire]\ngauge = 26\ndiameter = 0.4\n", "Give one of them"),
        _job("mirrored along its length", '[hull]\nfile = "hull.stl"\nlength_axis = "x"\nmirror = "x"\n' + foam, ""),
        _job("thicker allowances than the hull", HULL + foam + "[template]\nskin = 60\n", "skin"),
        _job("no foam", HULL, "thickness"),
        _job("no hull", foam, "hull: missing"),
        _job("no file", "[hull]\nunit = 'mm'\n" + foam, "hull.file"),
        _job("unknown key", HULL + foam + 'colour = "blue"\n', "foam.colour", "unknown"),
        _job("unknown part", HULL + foam + "[sails]\narea = 3\n", "sails", "unknown"),
        _job("thirty faults at once", HULL + "".join(f"x{n} = 1\n" for n in range(30)), "30 faults", "x29"),
        _job("words whose faults hide each other", HULL + "length = -1\n" + foam, "hull.length"),
    ]  # fmt: skip


def _texts() -> list[Case]:
    good = HULL + "[foam]\nthickness = 40\n"
    return [
        _job("empty job", "", "hull"),
        _job("not TOML", "[hull", "TOML"),
        _job("same key twice", HULL + 'file = "b.stl"\n', "TOML"),
        _job("UTF-16", good.encode("utf-16"), "UTF-8"),
        _job("Latin-1", (good + "# h\xfclle\n").encode("latin-1"), "UTF-8"),
        _job("zeros", bytes(300), "TOML"),
        _job("mesh behind .toml", stl(box()), "job.toml"),
        _job("number of 5000 digits", HULL + "[foam]\nthickness = " + "9" * 5000 + "\n", "job.toml"),
        _job("arrays 20,000 deep", HULL + "bodies = " + "[" * 20_000 + "]" * 20_000 + "\n", "job.toml"),
        _job("tables 20,000 deep", HULL + ".".join("a" * 20_000) + " = 1\n", "job.toml"),
        _job("number no computer holds", HULL + "[foam]\nthickness = 1e999\n", "foam.thickness"),
        _job("line feeds of another system", good.replace("\n", "\r\n") + "[paper]\nsize = 3\r\n", "paper.size"),
    ]  # fmt: skip


def _references() -> list[Case]:
    foam = "[foam]\nthickness = 40\n"

    def named(file: str) -> str:
        return f"[hull]\nfile = {file}\n{foam}"

    return [
        _job("file that is empty text", named('""'), "hull.file"),
        _job("file that is not there", named('"gone.stl"'), "gone.stl", "no such file"),
        _job("file with a zero in its name", named('"a\\u0000b.stl"'), "cannot be read"),
        _job("file that is the job", named('"job.toml"'), "suffix"),
        _job("file that is a folder", named('"."'), "suffix"),
        _job("file with a line feed", named('"a\\nb.stl"'), "no such file"),
        _job("file of 5000 letters", named(f'"{"h" * 5000}.stl"'), "cannot be read"),
        _job("file that is a number", named("7"), "hull.file"),
        Case(KIND, "folder with a zero in its name", _with('[output]\nfolder = "a\\u0000b"\n'), ("make", "job.toml"), 3, ("written",)),
        Case(KIND, "folder that is the hull", _with('[output]\nfolder = "hull.stl"\n'), ("make", "job.toml"), 3, ("not a folder",)),
        Case(KIND, "folder below the hull", _with('[output]\nfolder = "hull.stl/out"\n'), ("make", "job.toml"), 3, ("written",)),
        Case(KIND, "folder that is the working folder", _with('[output]\nfolder = "."\n'), ("make", "job.toml"), 3, ("not an earlier result",)),
        Case(KIND, "folder above", _with('[output]\nfolder = ".."\n'), ("make", "job.toml"), 3, ("not an earlier result",)),
        Case(KIND, "folder that is the root", _with('[output]\nfolder = "/"\n'), ("make", "job.toml"), 3, ("not an earlier result",)),
        Case(KIND, "folder of 300 letters", _with(f'[output]\nfolder = "{"o" * 300}"\n'), ("make", "job.toml"), 3, ("written",)),
        Case(KIND, "folder that is a number", _with("[output]\nfolder = 3\n"), ("make", "job.toml"), 3, ("output.folder",)),
        Case(KIND, "folder where none can be made", _with('[output]\nfolder = "/proc/nothing/out"\n'), ("make", "job.toml"), 3, ("written",)),
        Case(KIND, "no job file", {}, ("make", "job.toml"), 3, ("no job file",)),
        Case(KIND, "job file of 300 letters", {}, ("make", "j" * 300 + ".toml"), 3, ("cannot be read",)),
    ]  # fmt: skip


def _with(more: str) -> dict[str, Content]:
    job = HULL + "[foam]\nthickness = 100\n" + more
    return {"job.toml": job.encode(), "hull.stl": stl(box(200, 80, 60))}


def _enormous() -> list[Case]:
    foam = "[foam]\nthickness = 40\n"
    return [
        _job("job file of two million bytes", HULL + foam + "#" * 2_000_000, "page of text"),
        _job("ten thousand breaks", HULL + foam + f"breaks = {[n / 60 for n in range(1, 10_000)]}\n", "break", alone=True),
        _job("ten thousand gauges", HULL + foam + f"[template]\ngauges = {[n / 60 for n in range(1, 10_000)]}\n", "gauge", alone=True),
        _job("a hundred thousand bodies", '[hull]\nfile = "hull.stl"\n' + f"bodies = {list(range(1, 100_000))}\n" + foam, "bod", alone=True),
        _job("a hundred thousand unknown keys", HULL + "".join(f"x{n}=1\n" for n in range(100_000)), "unknown", alone=True),
        _job("foam as thin as a hair", HULL + "[foam]\nthickness = 0.05\nmin_block = 0\n", "thickness", alone=True),
        Case(KIND, "limit as small as an atom", _with("") | {"hull.stl": stl(hull()), "job.toml": (HULL + foam + "fit = 1e-9\n").encode()}, ("make", "--out", "out", "job.toml"), 3, ("fit",), alone=True),
        _job("marks by the hair", HULL + foam + "[template]\nmarks = 0.001\n", "marks"),
        _job("name of a board of a million letters", HULL + foam + f'[[boards]]\nname = "{"b" * 500_000}"\nlength = 1\nwidth = 1\nthickness = 1\n', "boards.0.name"),
        Case(KIND, "hull of 100 m", _with("") | {"job.toml": (HULL + "length = 100000\n" + foam).encode()}, ("make", "--out", "out", "job.toml"), 3, ("",), alone=True),
    ]  # fmt: skip


def _printers() -> list[Case]:
    foam = "[foam]\nthickness = 40\n"
    values = ("0", "-100", "89.9", "110.1", "1e9", "nan", '"a little"', "[100]", "true", '"4in 2"')
    texts = [(f"paper.{key}", value) for key in ("bar_across", "bar_up") for value in values]
    result = [
        _job(
            f"{place} = {value}",
            HULL + foam + f"[paper]\n{place.removeprefix('paper.')} = {value}\n",
            place,
            kind=PRINTERS,
        )
        for place, value in texts
    ]
    result += [
        Case(
            PRINTERS,
            f"--{key} {value}",
            _with(""),
            ("make", "--out", "out", f"--{key}={value}", "job.toml"),
            2,
            (f"--{key}",),
        )
        for key in ("bar-across", "bar-up")
        for value in ("0", "-1", "120", "nan", "inf", "1e400", "100%", "9,99")
    ]
    papers = {
        "margin wider than the paper": 'size = "A5"\nmargin = 80\n', "margin of 101": "margin = 101\n", "margin below nothing": "margin = -1\n",
        "overlap wider than the paper": 'size = "120x120"\noverlap = 50\nmargin = 35\n', "overlap of nothing": "overlap = 0\n",
        "paper too small for its bars": 'size = "120x120"\nmargin = 15\n', "paper of 100 km": 'size = "1e8x1e8"\n', "paper of no height": 'size = "210x0"\n',
    }  # fmt: skip
    result += [_job(name, HULL + foam + f"[paper]\n{text}", "", kind=PRINTERS) for name, text in papers.items()]
    return result


def _boards() -> list[Case]:
    foam = "[foam]\nthickness = 40\n"
    board = {"length": "1250", "width": "600", "thickness": "40"}

    def boards(part: str = "boards", more: str = "", **changed: str) -> str:
        values = "".join(f"{key} = {value}\n" for key, value in (board | changed).items())
        return f"{HULL}{foam}[[{part}]]\n{values}{more}"

    wrong = [(key, value) for key in board for value in ("0", "-1", "1e9", "nan", '"wide"')]
    wrong += [("count", value) for value in ("0", "-1", "1.5", "1000000", "nan")]
    wrong += [("price", value) for value in ("-1", "nan", '"dear"')] + [
        ("tolerance", value) for value in ("-1", "[1]", "[1, 2, 3]", '"some"')
    ]
    wrong += [("measured", value) for value in ("0", "-1", "nan")] + [
        ("name", "3"),
        ("foam", "3"),
        ("colour", '"blue"'),
    ]
    result = [_job(f"{key} = {value}", boards(**{key: value}), f"boards.0.{key}", kind=BOARDS) for key, value in wrong]
    result += [
        _job("offcut of nothing", boards("offcuts", length="0"), "offcuts.0.length", kind=BOARDS),
        _job("boards that are no list", HULL + foam + "[boards]\nlength = 3\n", "boards", kind=BOARDS),
        _job("board without a size", HULL + foam + "[[boards]]\nname = 'x'\n", "boards.0.length", kind=BOARDS),
        _job("300 kinds of boards", HULL + foam + "".join("[[boards]]\nlength = 1\nwidth = 1\nthickness = 40\n" for _ in range(300)), "boards", kind=BOARDS),
        _job("a crumb among boards to be bought", boards() + "[[boards]]\nlength = 10\nwidth = 10\nthickness = 10\n", kind=BOARDS, code=0),
    ]  # fmt: skip
    return result
