"""`make` with several jobs: the same bytes as alone, one failure that stops no other, and a table of all."""

import contextlib
import csv
import json
import os
import pickle
import re
import signal
import sys
from dataclasses import dataclass, replace
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote

import pytest

from profiles.blocks.settings import BlockSettings, StationSettings
from profiles.catalogue.making import Failed, Laid, Made, Order, make_order, origin_key
from profiles.catalogue.memory import MIB
from profiles.catalogue.rows import Row, State, catalogue_csv, printable, worst_code
from profiles.catalogue.webpage import catalogue_html
from profiles.catalogue.writing import is_made_from
from profiles.drafting.settings import Marking
from profiles.job import HullSource, Job, OutputSettings
from profiles.paper.settings import PageSettings
from profiles.results import load_libraries
from profiles.workers import workers
from tests import closed_forms as zoo
from tests.catalogue.calls import check_whole, content, make, small_hulls, start_make, wait_for_results, write_stl
from tests.corpus.cases import all_cases
from tests.interrupts import interruptible, members

SEVERAL = ("--foam", "60", "-o", "made")

groups_only = pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="only Linux shows a group's processes")


def rows_of(folder: Path) -> dict[str, dict[str, str]]:
    """Rows of catalogue.csv by job."""
    rows = csv.DictReader((folder / "catalogue.csv").read_text(encoding="utf-8").splitlines())
    return {row["job"]: row for row in rows}


def test_two_workers_give_the_bytes_of_one_and_of_a_job_alone(tmp_path: Path) -> None:
    """Four jobs of two hulls and two foams; a job that is made alone has no note of what it was made from."""
    hulls = [*small_hulls(tmp_path, 1), write_stl(tmp_path / "wedge.stl", zoo.wedge())]
    foams = ("--foam", "40", "--foam", "60")
    make(tmp_path, *hulls, *foams, "-o", "one", "--workers", "1")
    make(tmp_path, *hulls, *foams, "-o", "two", "--workers", "2")
    assert content(tmp_path / "one") == content(tmp_path / "two")
    assert check_whole(tmp_path / "two") == sorted(f"{hull.stem}-{foam}" for hull in hulls for foam in (40, 60))
    make(tmp_path, hulls[1], "--foam", "60", "-o", "alone")
    together = content(tmp_path / "two" / "wedge-60")
    assert together.pop("made-from.json")
    assert content(tmp_path / "alone") == together


def mixed_folder(folder: Path, share: int) -> dict[str, tuple[str, ...]]:
    """Hull files that must be refused, one of so many of the corpus: name of the job -> words that must be said."""
    words = {}
    for number, case in enumerate(all_cases()):
        if case.words[:5] != ("make", "--foam", "40", "--out", "out") or len(case.files) != 1 or number % share:
            continue
        ((name, data),) = case.files.items()
        if not isinstance(data, bytes) or "/" in name or len(name) > 60 or case.alone:
            continue
        (folder / f"{number:03d}-{name}").write_bytes(data)
        job = printable(Path(f"{number:03d}-{name}".removesuffix(".gz").removesuffix(".GZ")).stem)
        words[job] = tuple(word for word in case.says if Path(name).stem not in word)
    return words


@pytest.mark.parametrize("share", [6, pytest.param(1, marks=pytest.mark.slow)])
def test_a_mixed_folder_has_a_sentence_for_each_file(tmp_path: Path, share: int) -> None:
    """Sound, broken and absurd files: the sound ones are made, each other one has its reason, and leaves no folder."""
    hulls = tmp_path / "hulls"
    hulls.mkdir()
    refused = mixed_folder(hulls, share)
    sound = [hull.stem for hull in small_hulls(hulls, 2)]
    done = make(tmp_path, *sorted(hulls.iterdir()), "--foam", "40", "-o", "made", code=3)
    rows = rows_of(tmp_path / "made")
    assert rows.keys() == refused.keys() | set(sound)
    assert check_whole(tmp_path / "made") == sound
    for job, said in refused.items():
        assert (rows[job]["state"], rows[job]["exit_code"], rows[job]["folder"]) == ("failed", "3", "")
        assert rows[job]["words"].endswith((".", "!")), rows[job]
        assert all(word in rows[job]["words"] for word in said), (said, rows[job])
    assert done.stdout.splitlines()[0].startswith(f"2 of {len(rows)} jobs made, {len(refused)} not made, in ")
    assert done.stdout.count("Not made: ") == len(refused)
    assert len(refused) >= 20


def test_the_exit_code_is_the_most_severe_of_all() -> None:
    """130 goes before 4, 4 before 3, 3 before 2, and 0 only where all were made."""

    def code(*codes: int) -> int:
        return worst_code(Row("a", "a.stl", None, "", State.FAILED, one) for one in codes)

    assert [code(), code(0, 0), code(0, 2), code(3, 2), code(2, 4, 3), code(4, 130, 2)] == [0, 0, 2, 3, 4, 130]


@dataclass(frozen=True, slots=True)
class Resumed:
    """Five results, and what became of them when things had changed."""

    before: dict[str, bytes]
    after: dict[str, bytes]
    rows: dict[str, dict[str, str]]


@pytest.fixture(scope="module")
def resumed(tmp_path_factory: pytest.TempPathFactory) -> Resumed:
    """--resume after the hull of box-1 was changed, box-2 lost a file, box-3 is no hull any longer, and somebody put a
    file of their own into box-4.
    """
    folder = tmp_path_factory.mktemp("resumed")
    hulls = small_hulls(folder, 5)
    make(folder, *hulls, *SEVERAL)
    before = content(folder / "made")
    write_stl(hulls[1], zoo.box(140, 60, 40))
    (folder / "made/box-2/templates.pdf").unlink()
    hulls[3].write_bytes(b"no hull")
    (folder / "made/box-4/mine.txt").touch()
    make(folder, *hulls, *SEVERAL, "--resume", code=3)
    return Resumed(before, content(folder / "made"), rows_of(folder / "made"))


def test_resume_makes_only_what_is_not_there(resumed: Resumed) -> None:
    """A folder is kept where hull, options and program are the same and no file of it is missing."""
    states = {job: row["state"] for job, row in resumed.rows.items()}
    assert states == {"box-0": "kept", "box-1": "made", "box-2": "made", "box-3": "failed", "box-4": "failed"}
    changed = {name for name in resumed.after if resumed.after[name] != resumed.before.get(name)}
    assert {name.partition("/")[0] for name in changed} == {"box-1", "box-4"}
    assert {name for name in changed if name.startswith("box-4")} == {"box-4/mine.txt"}


def test_a_failed_job_leaves_an_earlier_result_as_it_was(resumed: Resumed) -> None:
    """The sentence says that it is there."""
    assert resumed.rows["box-3"]["words"].endswith("made/box-3 still holds an earlier result.")


def test_a_folder_that_holds_something_else_is_left_alone(resumed: Resumed) -> None:
    """Its job has failed, and the others are made."""
    words = resumed.rows["box-4"]["words"]
    assert re.search(r"holds something that is not an earlier result: 'mine\.txt'", words)


def test_resume_makes_again_what_has_other_options(tmp_path: Path) -> None:
    """The key of a result changes with every setting, the hull's bytes and its name, and with nothing else."""
    job = Job(hull=HullSource(file="a.stl"), foam=StationSettings(thickness=40))
    key = origin_key(job, "a.stl", b"hull")
    others = [
        origin_key(replace(job, foam=StationSettings(thickness=41)), "a.stl", b"hull"),
        origin_key(replace(job, template=BlockSettings(pin=4)), "a.stl", b"hull"),
        origin_key(replace(job, paper=PageSettings(blocks=(1,))), "a.stl", b"hull"),
        origin_key(job, "b.stl", b"hull"),
        origin_key(job, "a.stl", b"hull."),
    ]
    assert len({key, *others}) == 6
    elsewhere = replace(job, hull=HullSource(file="in/a.stl"), output=OutputSettings(folder="x"))
    assert origin_key(elsewhere, "a.stl", b"hull") == key
    marked = replace(job, markings=(Marking(file=str(tmp_path / "art.svg"), name="art", x=50.0),))
    keys = {origin_key(marked, "a.stl", b"hull")}
    for artwork in ("<svg/>", "<svg></svg>"):
        (tmp_path / "art.svg").write_text(artwork, encoding="utf-8")
        keys.add(origin_key(marked, "a.stl", b"hull"))
    assert len(keys) == 3
    for change in ("{", '{"made_from": 1}', '{"made_from": "k", "files": {"a": 3}}'):
        (tmp_path / "made-from.json").write_text(change, encoding="utf-8")
        assert not is_made_from(tmp_path, "k")


ODD = "a <b> & 'c' %41#"
"""The name of a hull file."""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the results of a file of an odd name and of a spheroid, and with none of a file that is missing."""
    folder = tmp_path_factory.mktemp("catalogue")
    make(folder, *three(folder), *SEVERAL, code=3)
    return folder / "made"


def three(folder: Path) -> list[Path]:
    """The files of that call."""
    odd = write_stl(folder / f"{ODD}.stl", zoo.box())
    return [odd, write_stl(folder / "round.stl", zoo.spheroid()), folder / "missing.stl"]


def test_the_table_says_what_the_reports_say(made: Path) -> None:
    """Sheets, sanding and warnings of each job, from its report.json."""
    rows = rows_of(made)
    assert "there is no such file" in rows.pop("missing")["words"]
    for job, row in rows.items():
        report = json.loads((made / job / "report.json").read_text(encoding="utf-8"))
        sanding = [block["sanding"] or 0 for block in report["blocks"]]
        assert int(row["sheets"]) == len(report["pages"])
        assert int(row["warnings"]) == len(report["warnings"])
        assert float(row["most_to_sand_mm"]) == pytest.approx(max(sanding), abs=0.005)
        assert row["fingerprint"] == report["fingerprint"]
        assert float(row["seconds"]) > 0


class _Page(HTMLParser):
    """Elements of a page, and the files that it refers to."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags, self.files, self.handlers = set[str](), list[str](), list[str]()
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """As the parser calls it."""
        self.tags.add(tag)
        self.files += [unquote(value or "") for name, value in attrs if name in {"href", "src"}]
        self.handlers += [name for name, _ in attrs if name.startswith("on")]


def test_the_page_has_no_script_and_its_links_lead_to_files(made: Path) -> None:
    """Whatever a hull file is called; nothing is loaded from elsewhere."""
    text = (made / "catalogue.html").read_text(encoding="utf-8")
    page = _Page(text)
    assert page.tags.isdisjoint({"script", "iframe", "object", "embed", "link", "form", "c"})
    assert not page.handlers
    assert len(page.files) == 8
    assert all((made / file).is_file() for file in page.files)
    assert "a &lt;b&gt; &amp; &#x27;c&#x27; %41#" in text


def test_the_sentences_of_failures_are_text_on_the_page(tmp_path: Path) -> None:
    """A message that repeats a file's words brings no element."""
    row = Row("x", "x.stl", None, "", State.FAILED, 3, message="<script>alert(1)</script> is not a hull.")
    text = "".join(catalogue_html([row], tmp_path, "one"))
    assert "script" not in _Page(text).tags
    assert "&lt;script&gt;alert(1)&lt;/script&gt; is not a hull." in text


def test_folders_elsewhere_are_linked_from_where_the_table_is(tmp_path: Path) -> None:
    """Job files that name their own folders."""
    row = Row("x", "x.toml", 40.0, str(tmp_path / "own/x"), State.MADE, seconds=1.0)
    assert ",../own/x," in catalogue_csv([row], tmp_path / "made")


@pytest.mark.parametrize("name", ["catalogue.csv", "catalogue.html"])
def test_a_table_that_is_not_ours_is_never_replaced(tmp_path: Path, name: str) -> None:
    """Somebody's own file of that name ends the command before anything starts."""
    (tmp_path / "made").mkdir()
    (tmp_path / "made" / name).write_text("my own notes", encoding="utf-8")
    done = make(tmp_path, *small_hulls(tmp_path, 2), *SEVERAL, code=3)
    assert "is not an earlier table of jobs" in done.stderr
    assert [path.name for path in (tmp_path / "made").iterdir()] == [name]


def test_figures_as_json_are_the_same_rows(made: Path) -> None:
    """With --json nothing else is printed; with --resume the second call makes nothing."""
    done = make(made.parent, *three(made.parent), *SEVERAL, "--resume", "--json", code=3)
    jobs = json.loads(done.stdout)["jobs"]
    assert [(job["name"], job["state"], job["code"]) for job in jobs] == [
        (ODD, "kept", 0), ("round", "kept", 0), ("missing", "failed", 3),
    ]  # fmt: skip
    assert "there is no such file" in jobs[2]["message"]


@groups_only
def test_an_interrupt_leaves_finished_folders_whole_and_nothing_else(tmp_path: Path) -> None:
    """Ctrl-C when a job is done: exit code 130, a count of what is there, no process left; --resume makes the rest."""
    hulls = small_hulls(tmp_path, 6)
    with interruptible(), start_make(tmp_path, *hulls, *SEVERAL) as run:
        wait_for_results(tmp_path / "made", 1, run)
        os.killpg(run.pid, signal.SIGINT)
        _, complained = run.communicate(timeout=120)
    assert run.returncode == 130
    names = check_whole(tmp_path / "made")
    assert 1 <= len(names) < 6
    so_far = f"{len(names)} of 6 jobs are made and complete"
    assert complained == f"stationer: stopped; {so_far}; the same command with --resume makes the rest\n"
    assert members(run.pid) == []
    assert not list((tmp_path / "tmp").iterdir())
    make(tmp_path, *hulls, *SEVERAL, "--resume")
    states = [row["state"] for row in rows_of(tmp_path / "made").values()]
    assert (states.count("kept"), states.count("made")) == (len(names), 6 - len(names))


def is_tracker(process: int) -> bool:
    """Whether a process is that which Python starts to look after semaphores."""
    return b"resource_tracker" in Path(f"/proc/{process}/cmdline").read_bytes()


@groups_only
def test_a_worker_that_is_killed_costs_no_job(tmp_path: Path) -> None:
    """As by a system that runs out of memory: the jobs are made again by other processes."""
    hulls = small_hulls(tmp_path, 4)
    with start_make(tmp_path, *hulls, *SEVERAL) as run:
        wait_for_results(tmp_path / "made", 1, run)
        worker = next(process for process in members(run.pid) if process != run.pid and not is_tracker(process))
        with contextlib.suppress(ProcessLookupError):
            os.kill(worker, signal.SIGKILL)
        said, complained = run.communicate(timeout=120)
    assert (run.returncode, complained) == (0, "")
    assert said.startswith("4 of 4 jobs made")
    assert not list((tmp_path / "tmp").iterdir())
    assert len(check_whole(tmp_path / "made")) == 4


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux keeps a process to it")
def test_a_job_that_needs_more_memory_than_it_may_take_says_so(tmp_path: Path) -> None:
    """The system refuses it; the worker lives on and makes the next."""
    (hull,) = small_hulls(tmp_path, 1)
    job = Job(hull=HullSource(file=str(hull)))
    thick = replace(job, foam=StationSettings(thickness=60))
    with workers(1, load_libraries) as executor:
        assert executor is not None
        short = executor.submit(make_order, Order(thick, hull.name, memory=MIB)).result()
        assert isinstance(short, Failed)
        assert short.short_of_memory
        again = executor.submit(make_order, Order(job, hull.name)).result()
    assert isinstance(again, Failed)
    assert "--foam" in again.message


def test_what_goes_through_the_pipe_of_a_pool_is_never_cut_in_two(tmp_path: Path) -> None:
    """A process that is killed while it sends would leave half a message, and the pool would wait for the rest: a write
    of at most PIPE_BUF bytes, 512 or more, is whole (POSIX.1, write).
    """
    (hull,) = small_hulls(tmp_path, 1)
    shelf = tmp_path / "shelf"
    shelf.mkdir()
    job = Job(hull=HullSource(file=str(hull)), foam=StationSettings(thickness=60))
    laid = make_order(Order(job, hull.name, shelf=str(shelf)))
    assert isinstance(laid, Laid)
    assert len(pickle.dumps(laid)) <= 512
    made = laid.take()
    assert isinstance(made, Made)
    assert sum(map(len, made.files.values())) > 100_000
    assert not list(shelf.iterdir())
