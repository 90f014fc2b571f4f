"""The server: ports, ends, kills, crashes, wishes that overtake each other, and memory."""

import base64
import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest

from profiles.cli.desk import check_extra
from profiles.errors import WordsError
from tests.desk.running import MODELS, PATIENCE, ROOT, Client, benches, gone, serving

FOAM = {"foam": {"thickness": 100.0}}


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Client]:
    home = tmp_path_factory.mktemp("desk")
    with serving(home) as client:
        yield client.enter()
    assert client.left() == []


def ready_desk(client: Client, name: str = "skerrywing.stl") -> str:
    """A desk that has read a hull."""
    desk = client.desk()
    assert client.drop(desk, MODELS / name).status_code == 202
    assert client.wait_ready(desk)["hull"]["state"] == "ready"
    return desk


# ---- begin and end ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_it_ends_with_nothing_left(tmp_path: Path, number: signal.Signals) -> None:
    """Ctrl-C in the middle of work, and a closed terminal, with a page that listens."""
    with serving(tmp_path) as client:
        desk = ready_desk(client.enter())
        client.wish(desk, FOAM)
        states = client.states(desk)
        next(states)
        processes = benches(client.process.pid)
        assert processes
        client.process.send_signal(number)
        list(states)  # comes to its end
        client.process.wait(PATIENCE)
        assert gone(processes)
    assert client.left() == []


def test_a_killed_server_is_cleared_away_by_the_next(tmp_path: Path) -> None:
    """Its benches end by themselves; its folder stays until the next start, which leaves those of living ones alone."""
    with serving(tmp_path) as living:
        ready_desk(living.enter())
        with serving(tmp_path, code=-signal.SIGKILL) as killed:
            desk = ready_desk(killed.enter())
            killed.wish(desk, FOAM)
            processes = benches(killed.process.pid)
            killed.process.kill()
            killed.process.wait()
            assert gone(processes)
        assert len([*tmp_path.glob("stationer-desk-*")]) == 2
        with serving(tmp_path):
            folders = [*tmp_path.glob("stationer-desk-*")]
            assert len(folders) == 2
            assert any("upload-1.stl" in name for name in living.left())
        assert living.http.get("/api/alive").status_code == 204
    assert living.left() == []


def test_a_folder_of_somebody_else_is_left_alone(tmp_path: Path) -> None:
    """A link with our prefix is not followed, and a file is no folder."""
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "lock").write_text("")
    (tmp_path / "stationer-desk-link").symlink_to(tmp_path / "mine")
    (tmp_path / "stationer-desk-file").write_text("")
    with serving(tmp_path):
        pass
    assert (tmp_path / "mine" / "lock").exists()
    assert (tmp_path / "stationer-desk-file").exists()


def test_a_second_desk_takes_another_port(tmp_path: Path) -> None:
    """Both work, each with a cookie of its own; a port that is asked for and taken is refused in a sentence."""
    with serving(tmp_path) as first, serving(tmp_path) as second:
        assert first.base != second.base
        first.enter()
        second.enter()
        assert first.http.get("/api/alive").status_code == 204
        second.http.cookies.update(first.http.cookies)  # as a browser sends them: without regard to ports
        assert second.http.get("/api/alive").status_code == 204
        port = first.base.rsplit(":", 1)[1]
        command = [sys.executable, "-m", "profiles", "desk", "--no-open", "--port", port]
        environment = os.environ | {"PYTHONPATH": str(ROOT), "TMPDIR": str(tmp_path)}
        done = subprocess.run(command, env=environment, capture_output=True, text=True, check=False, cwd=tmp_path)
    assert done.returncode == 2
    assert done.stderr == f"stationer: --port: port {port} is taken or not allowed. Give another, or leave it out.\n"


def test_a_missing_extra_is_one_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the packages the command says how to install them."""
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None if name == "plotly" else name)
    with pytest.raises(WordsError, match=r"^the desk needs plotly\. Install with: pip install 'stationer\[desk\]'\.$"):
        check_extra()


# ---- work ------------------------------------------------------------------------------------------------------------


def test_the_newest_wish_wins(client: Client) -> None:
    """Wishes one after the other: each gets its stations at once, only the last is worked out."""
    desk = ready_desk(client)
    thicknesses = [90.0 + number for number in range(12)]
    for thickness in thicknesses:
        coarse = client.wish(desk, {"foam": {"thickness": thickness}}, rest="").json()["coarse"]
        assert coarse["foam"] == thickness
        assert coarse["stations"][0] == 0.0
        assert coarse["stations"][-1] == pytest.approx(820, abs=0.1)
    state = client.wait(desk, "done", "failed")
    assert state["work"]["state"] == "done"
    assert set(state["have"].values()) == {state["wish"]}
    assert client.http.get(f"{desk}/body").json()["foam"] == thicknesses[-1]
    folders = [name for name in client.left() if re.search(r"work-\d+$", name) and f"{state['wish']}" in name]
    assert len(folders) == 1
    client.http.delete(desk)


def test_stop_ends_the_work(client: Client) -> None:
    """Work that is stopped says so, and can begin again; results before it stay."""
    desk = ready_desk(client)
    client.wish(desk, FOAM)
    first = client.wait(desk, "done")
    client.wish(desk, {"foam": {"thickness": 60.0}})
    before = len(benches(client.process.pid))
    state = client.http.post(f"{desk}/stop").json()
    assert state["work"]["state"] == "stopped"
    assert state["have"]["files"] == first["wish"]
    assert len(benches(client.process.pid)) <= before
    assert client.http.get(f"{desk}/files/templates.pdf").status_code == 200
    assert client.http.post(f"{desk}/work").json()["work"]["state"] == "working"
    assert client.wait(desk, "done", "failed")["have"]["files"] == state["wish"]
    client.http.delete(desk)


def processes_of(client: Client, desk: str) -> tuple[int, list[int]]:
    """The bench of a desk, and its forks: they work in the folder where the desk's upload lies."""
    (folder,) = {path.parent for path in client.home.rglob("upload-*") if is_in(path.parent, client, desk)}
    here = [number for number in benches(client.process.pid) if Path(f"/proc/{number}/cwd").readlink() == folder]
    (bench,) = (number for number in here if parent_of(number) == client.process.pid)
    return bench, [number for number in here if parent_of(number) == bench]


def is_in(folder: Path, client: Client, desk: str) -> bool:
    """Whether a folder is that of the desk: folders are numbered as desks are made, and this is the newest."""
    numbers = [int(path.name.removeprefix("desk-")) for path in client.home.glob("stationer-desk-*/desk-*")]
    return bool(desk) and folder.name == f"desk-{max(numbers)}"


def parent_of(number: int) -> int:
    return int(Path(f"/proc/{number}/stat").read_text().rsplit(")", 1)[1].split()[1])


@pytest.mark.parametrize("what", ["fork", "bench"])
def test_a_crash_costs_that_job_only(client: Client, what: str) -> None:
    """A process that is killed in the middle of work: a sentence, another desk goes on, and the next wish works."""
    other = ready_desk(client)
    desk = ready_desk(client)
    client.wish(desk, {"foam": {"thickness": 20.0}})
    for state in client.states(desk):
        if "pairing" in state["work"]["stage"]:
            break
    bench, forks = processes_of(client, desk)
    os.kill(bench if what == "bench" else forks[0], signal.SIGKILL)
    state = client.wait(desk, "failed", "done")
    assert state["work"]["state"] == "failed"
    assert "has ended" in state["work"]["fault"]["message"]
    assert client.http.get(other).json()["hull"]["state"] == "ready"
    assert client.wish(desk, FOAM).json()["coarse"]["foam"] == FOAM["foam"]["thickness"]
    assert client.wait(desk, "failed", "done")["work"]["state"] == "done"
    client.http.delete(desk)
    client.http.delete(other)


def test_a_job_at_fault_gets_its_sentence(client: Client) -> None:
    """Faults by field for what is typed; for what the hull shows, the fault of the work."""
    desk = ready_desk(client)
    answer = client.wish(desk, {"foam": {"thickness": -3, "odd": "middle"}, "template": {"pin": 0.1}})
    assert answer.status_code == 422
    assert {(fault["part"], fault["key"]) for fault in answer.json()["faults"]} == {
        ("foam", "thickness"),
        ("foam", "odd"),
        ("template", "pin"),
    }
    assert client.http.get(desk).json()["settings"] == {}
    answer = client.wish(desk, {"foam": {"thickness": 5000.0, "min_block": 4000.0}})
    state = client.wait(desk, "failed", "done")
    assert answer.json()["coarse"] is None or state["work"]["state"] == "done"
    if state["work"]["state"] == "failed":
        assert state["work"]["fault"]["message"].endswith(".")
    client.http.delete(desk)


def test_an_override_reads_the_hull_again(client: Client) -> None:
    """The unit of the file is a guess; with another the hull is so much longer."""
    desk = ready_desk(client)
    state = client.http.get(desk).json()
    guesses = [note for note in state["hull"]["notes"] if note["kind"] == "assumption"]
    assert {"part": "hull", "key": "unit"} in [field for note in guesses for field in note["fields"]]
    length = state["hull"]["figures"]["length"]
    assert client.wish(desk, {"hull": {"unit": "cm", "nose": "high"}}).json()["coarse"] is None
    hull = client.wait_ready(desk)["hull"]
    assert hull["figures"]["length"] == pytest.approx(10 * length)
    assert hull["figures"]["axes"]["nose"] == "high"
    client.wish(desk, {})
    assert client.wait_ready(desk)["hull"]["figures"]["length"] == pytest.approx(length)
    client.http.delete(desk)


def test_job_file_and_hull_come_in_either_order(client: Client) -> None:
    """A job file waits for its hull, or finds it there."""
    text = b'[hull]\nfile = "models/skerrywing.stl"\nunit = "mm"\n[foam]\nthickness = 58\n'
    desk = client.desk()
    answer = client.http.put(f"{desk}/hull", params={"name": "job.toml"}, content=text).json()
    assert (answer["wanted"], answer["hull"]) == ("skerrywing.stl", None)
    client.drop(desk, MODELS / "skerrywing.stl")
    state = client.wait_ready(desk)
    assert (state["wanted"], state["settings"]["hull"]) == (None, {"unit": "mm"})
    other = ready_desk(client)
    client.http.put(f"{other}/hull", params={"name": "job.toml"}, content=text)
    assert client.wait_ready(other)["settings"]["foam"] == {"thickness": 58}
    for one in (desk, other):
        client.http.delete(one)


def test_other_foams_are_compared(client: Client) -> None:
    """Rows as the command line's comparison: more foam, fewer blocks, more to sand."""
    desk = ready_desk(client)
    client.wish(desk, FOAM)
    rows = client.http.post(f"{desk}/compare", json={"foams": [100, "160 mm"]}).json()["rows"]
    assert [row["foam"] for row in rows] == [100.0, 160.0]
    assert rows[0]["blocks"] > rows[1]["blocks"]
    assert client.http.post(f"{desk}/compare", json={"foams": [-1]}).status_code == 422
    assert client.http.post(f"{desk}/compare", json={"foams": list(range(20, 40))}).status_code == 422
    client.http.delete(desk)


def test_marks_of_both_faces_belong_together(client: Client) -> None:
    """Equal numbers on both faces of every block, as the templates have them; the colours are those of the picture."""
    desk = ready_desk(client)
    client.wish(desk, FOAM)
    assert client.wait(desk, "done")["work"]["state"] == "done"
    body = client.http.get(f"{desk}/body").json()
    picture = client.http.get(f"{desk}/sheets").json()
    assert picture["sheets"]
    for block in body["blocks"]:
        templates = client.http.get(f"{desk}/blocks/{block['number']}").json()
        fore, aft = templates["faces"]
        if not block["carved"]:
            assert fore["marks"]
            assert [mark["number"] for mark in fore["marks"]] == [mark["number"] for mark in aft["marks"]]
    rows = [client.http.get(sheet["url"]) for sheet in picture["sheets"]]
    assert all(row.text.startswith("<?xml") for row in rows)
    colours = {block["colour"] for block in body["blocks"] if not block["carved"]}
    listed = client.http.get(f"{desk}/files").json()["files"]
    (url,) = (file["url"] for file in listed if file["name"] == "body.svg")
    text = client.http.get(url).text.lower()
    assert all(colour in text for colour in colours)
    client.http.delete(desk)


def test_parts_have_letters_and_lie_where_they_are(client: Client) -> None:
    """A job with parts: blocks by their letters, solids in the frame of the hull."""
    desk = ready_desk(client)
    top = {"name": "top", "region": "above 20", "slice": "upright", "foam": 20}
    client.wish(desk, FOAM | {"parts": [top]})
    assert client.wait(desk, "done", "failed")["work"]["state"] == "done"
    names = [block["name"] for block in client.http.get(f"{desk}/body").json()["blocks"]]
    assert {"block 01", "block T01"} <= set(names)
    hull = client.http.get(desk).json()["hull"]["figures"]
    meshes = client.http.get(f"{desk}/meshes").json()["blocks"]
    assert len(meshes) == len(names)
    heights = [corners_of(block["mesh"])[:, 2] for block in meshes]
    assert all(numbers.max() < hull["lowest"] + hull["depth"] + 10 for numbers in heights)  # mm; outlines grow a little
    assert sum(numbers.min() > 15 for numbers in heights) == sum("T" in name for name in names)
    client.http.delete(desk)


def corners_of(mesh: dict[str, Any]) -> npt.NDArray[np.float64]:
    """The corners of a mesh (n, 3) mm."""
    return np.column_stack([unpack(mesh[name]) for name in "xyz"]).astype(float)


def unpack(part: dict[str, str]) -> npt.NDArray[Any]:
    """Numbers as the page reads them."""
    return np.frombuffer(base64.b64decode(part["bdata"]), dtype=f"<{part['dtype']}")


@pytest.mark.parametrize("demo", ["skerrywing", "pelloway", "tandril", "wickerby"])
def test_the_coarse_picture_is_like_the_hull(client: Client, demo: str) -> None:
    """It holds the hull's volume to 10 %, in at most 5,000 triangles, and is closed."""
    desk = client.desk()
    client.http.put(f"{desk}/demo", json={"name": demo})
    figures = client.wait_ready(desk)["hull"]["figures"]
    settings = client.http.get(desk).json()["settings"]
    coarse = client.wish(desk, settings).json()["coarse"]
    mesh = coarse["mesh"]
    corners = corners_of(mesh)
    faces = np.column_stack([unpack(mesh[name]) for name in "ijk"])
    assert 100 < len(faces) <= 5000
    one, two, three = (corners[faces[:, place]] for place in range(3))
    volume = np.einsum("ij,ij->i", one, np.cross(two, three)).sum() / 6  # the divergence theorem
    assert volume == pytest.approx(figures["volume"], rel=0.1)
    edges = np.sort(np.vstack([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
    assert set(np.unique(edges, axis=0, return_counts=True)[1]) == {2}
    client.http.delete(desk)


def memory(number: int) -> int:
    """What a process uses, kB: its own pages alone."""
    text = Path(f"/proc/{number}/smaps_rollup").read_text()
    return sum(int(size) for size in re.findall(r"^Private_\w+:\s+(\d+)", text, re.MULTILINE))


def test_memory_stays_flat_over_moves(client: Client) -> None:
    """Two hundred moves of a slider after the first fifty add less than 3 MB to the server and to the bench."""
    desk = ready_desk(client)

    def move(count: int) -> None:
        for number in range(count):
            assert client.wish(desk, {"foam": {"thickness": 30.0 + number % 40}}, rest="").json()["coarse"]
        client.http.post(f"{desk}/stop")

    move(50)
    both = client.process.pid, processes_of(client, desk)[0]
    before = [memory(number) for number in both]
    move(200)
    after = [memory(number) for number in both]
    assert max(after[0] - before[0], after[1] - before[1]) < 3_000, (before, after)
    client.http.delete(desk)
