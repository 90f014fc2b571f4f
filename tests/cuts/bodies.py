"""Bodies that the tests cut into."""

from pathlib import Path

from profiles import BlockSettings, Body, Hull, ReadSettings, StationSettings, cut, plan, read
from tests import closed_forms as zoo
from tests.hull import mesh_files

MODELS = Path(__file__).parents[2] / "models"


def hull_of(mesh: zoo.Mesh, folder: Path) -> Hull:
    place = folder / "body.stl"
    place.write_bytes(mesh_files.stl_binary(*mesh))
    return read(place, ReadSettings(unit="mm", length_axis="x", up="z", nose="low", mirror="none"))


def body_of(hull: Hull, thickness: float = 50.0, **settings: float) -> Body:
    return cut(hull, plan(hull, StationSettings(thickness=thickness)), BlockSettings(**settings))  # type: ignore[arg-type]
