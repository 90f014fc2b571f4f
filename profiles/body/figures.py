"""Weight, balance and flotation -> figures for report.json, rows for people, and CSV.

A row knows its dimension, so that a model and its original are written in their own units: lengths grow with the
scale, areas with its square, volumes and weights with its cube (Froude).
"""

import csv
import io
from collections.abc import Iterator, Sequence
from enum import Enum

from profiles.body.flotation import Flotation
from profiles.body.hydrostatics import Hydrostatics
from profiles.body.mass import Mass
from profiles.body.weigh import BodyFigures
from profiles.body.weights import Weights
from profiles.units import (
    Figures,
    area_units,
    bare_area,
    bare_length,
    large_area_text,
    length_text,
    round_figures,
    volume_text,
)
from profiles.values import dataclass


class Kind(Enum):
    """What a figure is, by how it grows with the scale."""

    NUMBER = 0
    LENGTH = 1
    AREA = 2
    VOLUME = 3
    WEIGHT = 3.5
    ANGLE = -1
    SINKAGE = -2
    MOMENT = -3


@dataclass(frozen=True, slots=True)
class Row:
    """A figure: mm, mm2, mm3, g, g mm, degrees, or a number."""

    label: str
    value: float | None
    kind: Kind
    note: str = ""

    @property
    def text(self) -> str:
        """As printed for a model."""
        return format_figure(self.value, self.kind)

    def text_at(self, scale: float) -> str:
        """As printed for the original, of which this is a model to `scale` (1/12)."""
        if self.value is None or self.kind.value <= 0:
            return ""
        return format_original(self.value / scale ** int(self.kind.value), self.kind)


def format_figure(value: float | None, kind: Kind) -> str:
    """A figure with the unit that suits a model.

    >>> format_figure(1234567.0, Kind.VOLUME), format_figure(812.3, Kind.WEIGHT)
    ('1.235 litres', '812 g')
    """
    if value is None:
        return "none"
    if kind is Kind.WEIGHT:
        return grams(value)
    texts = {
        Kind.VOLUME: volume_text(value),
        Kind.AREA: f"{bare_area(value)} {area_units()[0]}",
        Kind.LENGTH: length_text(value),
        Kind.SINKAGE: length_text(value, 2),
        Kind.MOMENT: f"{value:.0f} g mm",
        Kind.ANGLE: f"{value:.1f} degrees",
    }
    return texts.get(kind, f"{value:.3f}").replace("-0.0 ", "0.0 ")


def format_original(value: float, kind: Kind) -> str:
    """A figure in mm, mm2, mm3 or g with the unit that suits a ship."""
    if kind is Kind.WEIGHT:
        return f"{value / 1e6:.3g} t" if value >= TONNE else f"{value / 1e3:.3g} kg"
    return {
        Kind.LENGTH: f"{value / 1e3:.3f} m",
        Kind.AREA: f"{value / 1e6:.2f} m2",
        Kind.VOLUME: f"{value / 1e9:.3f} m3",
    }[kind]


TONNE = 1e6
"""g."""


def grams(value: float) -> str:
    """A weight: 81.2 g, 812 g, 81.20 kg."""
    decimals, heavy = (1, 2) if abs(value) < 100 else (0, 2)  # noqa: PLR2004 - three figures
    return f"{value:.{decimals}f} g" if abs(value) < 1e4 else f"{value / 1e3:.{heavy}f} kg"  # noqa: PLR2004 - four digits


# ---- rows ------------------------------------------------------------------------------------------------------------


def weight_rows(weights: Weights) -> list[tuple[str, str, str, str, str, str]]:
    """The parts of the weight: name, weight, x, y, z, and what it is worked out from; the total last."""
    rows = []
    for name, mass, basis in (
        *((part.name, part.mass, part.basis) for part in weights.parts),
        ("total", weights.total, ""),
    ):
        x, y, z = map(bare_length, mass.centre.tolist())
        rows.append((name, grams(mass.amount), x, y, z, basis))
    return rows


def balance_rows(weights: Weights, lowest: float) -> list[tuple[str, str, str]]:
    """Label, value and note of what follows from the weights; `lowest` is the z in mm of the lowest point."""
    total = weights.total
    x, _, z = total.centre.tolist()
    low, high = (density / weights.density for density in weights.densities)
    foam = weights.parts[0].mass.amount
    rows = [
        ("weight", grams(total.amount), "" if low == high else f"foam {grams(low * foam)} to {grams(high * foam)}"),
        (
            "balance",
            f"x {x:.1f} mm",
            f"from the nose; {z:.1f} mm above the datum, {z - lowest:.1f} above the lowest point",
        ),
    ]
    if weights.ballast:
        rows.append(("ballast", grams(weights.ballast.weight), f"at x {weights.ballast.x:g} mm"))
    rows += [
        ("surface", large_area_text(weights.surface.amount), "finished"),
        ("volume", volume_text(weights.hull.amount), "finished"),
    ]
    if weights.as_cut:
        rows.append(("foam as cut", volume_text(weights.as_cut.amount), "before sanding"))
    for cover in weights.covers:
        buy = f"{large_area_text(cover.area)} to cover" + (
            f", buy {large_area_text(cover.to_buy)}" if cover.to_buy else ""
        )
        rows.append((cover.name, grams(cover.weight), buy))
    roll, pitch, yaw = (total.inertia[k, k] / 1e3 for k in range(3))
    rows.append(("inertia", f"{roll:.0f}, {pitch:.0f}, {yaw:.0f} kg mm2", "about x, y, z through the balance"))
    if weights.cost:
        unpriced = f"without {', '.join(weights.cost.unpriced)}" if weights.cost.unpriced else "in the job's currency"
        rows.append(("boards cost", f"{weights.cost.total:.2f}", unpriced))
    return rows


def flotation_rows(flotation: Flotation) -> list[Row]:
    """The figures of a body afloat."""
    afloat, righting = flotation.afloat, flotation.righting
    water = f"{flotation.density:.1f} kg/m3"
    rows = [
        Row("displacement", flotation.weight, Kind.WEIGHT, f"{flotation.kind} water, {water}"),
        Row("displaced volume", afloat.volume, Kind.VOLUME),
        Row("draught fore", afloat.draught_fore, Kind.LENGTH, "above the lowest point, at the ends of the waterline"),
        Row("draught aft", afloat.draught_aft, Kind.LENGTH),
        Row("deepest point", afloat.draught, Kind.LENGTH, "under water"),
        Row("trim", afloat.plane.trim, Kind.ANGLE, "nose down is positive"),
        Row("heel", afloat.plane.heel, Kind.ANGLE, "to starboard is positive"),
        Row("waterline length", afloat.length, Kind.LENGTH, f"from x {afloat.ends[0]:.1f} to {afloat.ends[1]:.1f} mm"),
        Row("waterline beam", afloat.beam, Kind.LENGTH),
        Row("wetted surface", afloat.wetted, Kind.AREA),
        Row("waterplane area", afloat.waterplane, Kind.AREA),
        Row("centre of buoyancy LCB", afloat.lcb, Kind.LENGTH, "from the nose"),
        Row("centre of buoyancy VCB", afloat.vcb, Kind.LENGTH, "above the lowest point"),
        Row("centre of waterplane LCF", afloat.lcf, Kind.LENGTH, "from the nose"),
        Row("BM across", afloat.bm_across, Kind.LENGTH),
        Row("BM along", afloat.bm_along, Kind.LENGTH),
        Row("GM across", afloat.gm_across, Kind.LENGTH, "righting arm per radian of heel"),
        Row("GM along", afloat.gm_along, Kind.LENGTH),
        Row("block coefficient Cb", afloat.block, Kind.NUMBER),
        Row("prismatic coefficient Cp", afloat.prismatic, Kind.NUMBER),
        Row("midship coefficient Cm", afloat.midship, Kind.NUMBER, "at the largest section"),
        Row("waterplane coefficient Cwp", afloat.waterplane_share, Kind.NUMBER),
        Row("100 g sink it by", afloat.sinkage, Kind.SINKAGE),
        Row("moment to trim 1 mm", afloat.trim_moment, Kind.MOMENT, "between the ends of the waterline"),
        Row("largest righting arm", righting.largest.arm, Kind.LENGTH, f"at {righting.largest.heel:g} degrees of heel"),
        Row("vanishing stability", righting.vanishing, Kind.ANGLE, describe_range(flotation)),
        Row("buoyancy, all under", flotation.buoyancy, Kind.WEIGHT),
    ]
    if flotation.to_load:
        grams_more, x = flotation.to_load
        rows.append(Row("to load for it", grams_more, Kind.WEIGHT, f"with its centre at x {x:.1f} mm"))
    return rows


def describe_range(flotation: Flotation) -> str:
    """From where to where the body rights itself."""
    righting = flotation.righting
    if righting.indifferent:
        return "it stays at any angle"
    if not righting.ever:
        return "it does not right itself from any angle"
    if righting.vanishing is None:
        return "it rights itself from every angle" if righting.stable else "it rights itself from keel up"
    return "beyond this heel it capsizes"


# ---- report.json -----------------------------------------------------------------------------------------------------


def body_figures(figures: BodyFigures) -> Figures:
    """The keys `body` and, where it is floated, `water`; every key carries its unit."""
    result: Figures = {"body": weight_figures(figures.weights) | {"surface_from": figures.source}}
    if figures.flotation:
        result["water"] = flotation_figures(figures.flotation)
        if figures.scale:
            result["water"]["full_size"] = full_size_figures(figures.flotation, figures.scale)
    return {part: round_figures(values) for part, values in result.items()}


def weight_figures(weights: Weights) -> Figures:
    """Weight and balance."""
    total, ballast = weights.total, weights.ballast
    low, high = weights.densities
    return {
        "weight_g": total.amount,
        **_centre("cg_", total),
        "inertia_about_cg_g_mm2": total.inertia.tolist(),
        "hull_volume_mm3": weights.hull.amount,
        "surface_area_mm2": weights.surface.amount,
        "foam_volume_mm3": weights.foam.amount,
        **_centre("foam_", weights.foam),
        "foam_as_cut_volume_mm3": weights.as_cut.amount if weights.as_cut else None,
        "foam_density_kg_m3": weights.density,
        "foam_density_low_kg_m3": low,
        "foam_density_high_kg_m3": high,
        "joints_between_blocks_mm2": float(weights.joints[0]),
        "joints_between_layers_mm2": float(weights.joints[1]),
        "parts": [
            {"name": part.name, "weight_g": part.mass.amount, **_centre("", part.mass)} for part in weights.parts
        ],
        "covers": [
            {"name": cover.name, "area_mm2": cover.area, "to_buy_mm2": cover.to_buy, "weight_g": cover.weight}
            for cover in weights.covers
        ],
        "ballast_g": ballast.weight if ballast else None,
        "boards_cost": weights.cost.total if weights.cost else None,
        "boards_without_price": list(weights.cost.unpriced) if weights.cost else [],
        "loads_outside": list(weights.outside),
    }


def _centre(stem: str, mass: Mass) -> Figures:
    return {f"{stem}{axis}_mm": float(value) for axis, value in zip("xyz", mass.centre, strict=True)}


def flotation_figures(flotation: Flotation) -> Figures:
    """A body afloat, its righting arms and its curves of form."""
    righting = flotation.righting
    x, y, z = flotation.gravity.tolist()
    return {
        "water": flotation.kind,
        "water_density_kg_m3": flotation.density,
        "at_waterline": flotation.at_waterline,
        "weight_g": flotation.weight,
        "cg_x_mm": x,
        "cg_y_mm": y,
        "cg_z_mm": z,
        **hydrostatic_figures(flotation.afloat),
        "buoyancy_of_all_g": flotation.buoyancy,
        "to_load_g": flotation.to_load[0] if flotation.to_load else None,
        "to_load_x_mm": flotation.to_load[1] if flotation.to_load else None,
        "stable_upright": righting.stable,
        "vanishing_degrees": righting.vanishing,
        "largest_arm_mm": righting.largest.arm,
        "largest_arm_degrees": righting.largest.heel,
        "righting": [{"heel_degrees": arm.heel, "arm_mm": arm.arm, "trim_degrees": arm.trim} for arm in righting.arms],
        "levels": [hydrostatic_figures(level) for level in flotation.levels],
    }


def hydrostatic_figures(afloat: Hydrostatics) -> Figures:
    """A body at a plane of water. The plane is where up . p = height in the hull frame."""
    return {
        "plane_up": list(afloat.plane.up),
        "plane_height_mm": afloat.plane.height,
        "heel_degrees": afloat.plane.heel,
        "trim_degrees": afloat.plane.trim,
        "displaced_volume_mm3": afloat.volume,
        "displacement_g": afloat.displacement,
        "wetted_area_mm2": afloat.wetted,
        "waterplane_area_mm2": afloat.waterplane,
        "draught_mm": afloat.draught,
        "draught_fore_mm": afloat.draught_fore,
        "draught_aft_mm": afloat.draught_aft,
        "waterline_length_mm": afloat.length,
        "waterline_beam_mm": afloat.beam,
        "waterline_fore_x_mm": afloat.ends[0],
        "waterline_aft_x_mm": afloat.ends[1],
        "lcb_mm": afloat.lcb,
        "tcb_mm": afloat.tcb,
        "vcb_mm": afloat.vcb,
        "lcf_mm": afloat.lcf,
        "bm_across_mm": afloat.bm_across,
        "bm_along_mm": afloat.bm_along,
        "km_across_mm": afloat.km_across,
        "km_along_mm": afloat.km_along,
        "gm_across_mm": afloat.gm_across,
        "gm_along_mm": afloat.gm_along,
        "block_coefficient": afloat.block,
        "prismatic_coefficient": afloat.prismatic,
        "midship_coefficient": afloat.midship,
        "waterplane_coefficient": afloat.waterplane_share,
        "sinkage_mm_per_100_g": afloat.sinkage,
        "trim_moment_g_mm_per_mm": afloat.trim_moment,
    }


def full_size_figures(flotation: Flotation, scale: float) -> Figures:
    """The same of the original, in the same water: lengths m, areas m2, volumes m3, weights kg."""
    afloat = flotation.afloat
    lengths = {
        "draught_fore_m": afloat.draught_fore,
        "draught_aft_m": afloat.draught_aft,
        "waterline_length_m": afloat.length,
        "waterline_beam_m": afloat.beam,
        "lcb_m": afloat.lcb,
        "vcb_m": afloat.vcb,
        "lcf_m": afloat.lcf,
        "gm_across_m": afloat.gm_across,
        "gm_along_m": afloat.gm_along,
    }
    return {
        "scale": scale,
        "displacement_kg": flotation.weight / scale**3 / 1e3,
        "displaced_volume_m3": afloat.volume / scale**3 / 1e9,
        "wetted_area_m2": afloat.wetted / scale**2 / 1e6,
        "waterplane_area_m2": afloat.waterplane / scale**2 / 1e6,
        **{name: None if value is None else value / scale / 1e3 for name, value in lengths.items()},
        "speed_of_original_over_model": scale**-0.5,
    }


# ---- CSV -------------------------------------------------------------------------------------------------------------


def righting_csv(flotation: Flotation) -> str:
    """Righting arms by angle of heel."""
    rows = ((f"{arm.heel:g}", f"{arm.arm:.4f}", f"{arm.trim:.4f}") for arm in flotation.righting.arms)
    return _csv(("heel_degrees", "arm_mm", "trim_degrees"), rows)


def levels_csv(flotation: Flotation) -> str:
    """The curves of form: a line for each waterline, upright."""
    tables = [hydrostatic_figures(level) for level in flotation.levels]
    names = [name for name in (tables[0] if tables else {}) if name not in {"plane_up", "heel_degrees", "trim_degrees"}]
    return _csv(names, (["" if table[name] is None else f"{table[name]:.6g}" for name in names] for table in tables))


def _csv(names: Sequence[str], rows: Iterator[Sequence[str]]) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(names)
    writer.writerows(rows)
    return text.getvalue()
