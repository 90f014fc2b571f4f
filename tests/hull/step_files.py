"""A STEP file of one solid block, written line by line after ISO 10303-41 and -42 (from memory)."""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from tests.hull.mesh_files import QUADS, block

Floats = npt.NDArray[np.float64]

_MM = "(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.MILLI.,.METRE.))"
_M = "(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT($,.METRE.))"


@dataclass
class _Lines:
    lines: list[str] = field(default_factory=list)
    edges: dict[tuple[int, int], str] = field(default_factory=dict)

    def add(self, text: str) -> str:
        """Write one entity and return its number."""
        self.lines.append(f"#{len(self.lines) + 1}={text};")
        return f"#{len(self.lines)}"

    def listed(self, numbers: list[str]) -> str:
        return "(" + ",".join(numbers) + ")"

    def point(self, values: Floats) -> str:
        return self.add(f"CARTESIAN_POINT('',({_triple(values)}))")

    def direction(self, values: Floats) -> str:
        return self.add(f"DIRECTION('',({_triple(values / np.linalg.norm(values))}))")


def _triple(values: Floats) -> str:
    return ",".join(f"{float(value):.9E}" for value in values)


def step_block(size: tuple[float, float, float], unit: str) -> bytes:
    """A block with one corner at the origin; `unit` is mm, m or in, and `size` is in it."""
    file = _Lines()
    context = _context(file, unit)
    solid = file.add(f"MANIFOLD_SOLID_BREP('block',{_shell(file, block(size))})")
    origin = file.add(f"AXIS2_PLACEMENT_3D('',{file.point(np.zeros(3))},$,$)")
    shape = file.add(f"ADVANCED_BREP_SHAPE_REPRESENTATION('',({origin},{solid}),{context})")
    _product(file, shape)
    head = "ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION((''),'2;1');\nFILE_NAME('','',(''),(''),'','','');\n"
    head += "FILE_SCHEMA(('AUTOMOTIVE_DESIGN'));\nENDSEC;\nDATA;\n"
    return (head + "\n".join(file.lines) + "\nENDSEC;\nEND-ISO-10303-21;\n").encode()


def _context(file: _Lines, unit: str) -> str:
    length = file.add(_M if unit == "m" else _MM)
    if unit == "in":
        exponents = file.add("DIMENSIONAL_EXPONENTS(1.,0.,0.,0.,0.,0.,0.)")
        measure = file.add(f"LENGTH_MEASURE_WITH_UNIT(LENGTH_MEASURE(25.4),{length})")
        length = file.add(f"(CONVERSION_BASED_UNIT('INCH',{measure})LENGTH_UNIT()NAMED_UNIT({exponents}))")
    angle = file.add("(NAMED_UNIT(*)PLANE_ANGLE_UNIT()SI_UNIT($,.RADIAN.))")
    solid = file.add("(NAMED_UNIT(*)SI_UNIT($,.STERADIAN.)SOLID_ANGLE_UNIT())")
    close = file.add(f"UNCERTAINTY_MEASURE_WITH_UNIT(LENGTH_MEASURE(1.E-07),{length},'distance_accuracy_value','')")
    return file.add(
        f"(GEOMETRIC_REPRESENTATION_CONTEXT(3)GLOBAL_UNCERTAINTY_ASSIGNED_CONTEXT(({close}))"
        f"GLOBAL_UNIT_ASSIGNED_CONTEXT(({length},{angle},{solid}))REPRESENTATION_CONTEXT('',''))"
    )


def _shell(file: _Lines, corners: Floats) -> str:
    points = [file.point(corner) for corner in corners]
    vertices = [file.add(f"VERTEX_POINT('',{point})") for point in points]
    faces = []
    for quad in QUADS:
        ring = [_edge(file, corners, points, vertices, pair) for pair in zip(quad, quad[1:] + quad[:1], strict=True)]
        loop = file.add(f"EDGE_LOOP('',{file.listed(ring)})")
        bound = file.add(f"FACE_OUTER_BOUND('',{loop},.T.)")
        along, across = corners[quad[1]] - corners[quad[0]], corners[quad[2]] - corners[quad[1]]
        normal, first = file.direction(np.cross(along, across)), file.direction(along)
        axes = file.add(f"AXIS2_PLACEMENT_3D('',{points[quad[0]]},{normal},{first})")
        plane = file.add(f"PLANE('',{axes})")
        faces.append(file.add(f"ADVANCED_FACE('',({bound}),{plane},.T.)"))
    return file.add(f"CLOSED_SHELL('',{file.listed(faces)})")


def _edge(file: _Lines, corners: Floats, points: list[str], vertices: list[str], pair: tuple[int, int]) -> str:
    a, b = pair
    if (b, a) in file.edges:
        return file.add(f"ORIENTED_EDGE('',*,*,{file.edges[b, a]},.F.)")
    vector = file.add(f"VECTOR('',{file.direction(corners[b] - corners[a])},1.)")
    line = file.add(f"LINE('',{points[a]},{vector})")
    file.edges[pair] = file.add(f"EDGE_CURVE('',{vertices[a]},{vertices[b]},{line},.T.)")
    return file.add(f"ORIENTED_EDGE('',*,*,{file.edges[pair]},.T.)")


def _product(file: _Lines, shape: str) -> None:
    application = file.add("APPLICATION_CONTEXT('automotive design')")
    file.add(f"APPLICATION_PROTOCOL_DEFINITION('international standard','automotive_design',2000,{application})")
    context = file.add(f"PRODUCT_CONTEXT('',{application},'mechanical')")
    product = file.add(f"PRODUCT('block','block','',({context}))")
    formation = file.add(f"PRODUCT_DEFINITION_FORMATION('','',{product})")
    design = file.add(f"PRODUCT_DEFINITION_CONTEXT('part definition',{application},'design')")
    definition = file.add(f"PRODUCT_DEFINITION('design','',{formation},{design})")
    defined = file.add(f"PRODUCT_DEFINITION_SHAPE('','',{definition})")
    file.add(f"SHAPE_DEFINITION_REPRESENTATION({defined},{shape})")
