// Names of settings on the page: terms of the trade, or our own words. Help, units and defaults come from the server.
import { app } from "/page/app.js";

const LABELS = {
  "hull.unit": "Unit of the file", "hull.length": "Overall length", "hull.scale": "Scale", "hull.length_axis": "Length axis",
  "hull.up": "Up axis", "hull.nose": "Nose at", "hull.turn": "Turn", "hull.mirror": "Mirror", "hull.solid": "Solid plug",
  "hull.thinnest": "Thinnest shell", "hull.bridge": "Close gaps up to", "hull.narrowest": "Narrowest hole",
  "hull.keep_holes": "Keep narrow holes", "hull.bodies": "Use only bodies", "hull.all_bodies": "Keep loose bodies",
  "hull.datum": "Datum height", "hull.max_triangles": "Most triangles", "hull.max_bytes": "Largest file",
  "foam.thickness": "Foam thickness", "foam.odd": "Odd blocks at", "foam.min_block": "Thinnest block", "foam.breaks": "Stations at",
  "foam.shape_stations": "Stations where the shape changes", "foam.most": "Divide above", "foam.fit": "Fit: at most to sand",
  "foam.built": "Blocks already glued", "foam.built_length": "Their length", "foam.as_measured": "Stations as measured",
  "template.skin": "Skin", "template.kerf": "Kerf", "template.kerf_test": "Kerf test block", "template.wire": "Wire diameter",
  "template.allowance": "Allowance", "template.box_step": "Box sizes in steps of", "template.box": "Box", "template.pin": "Pin holes",
  "template.marks": "Distance of marks", "template.growth": "Growth", "template.missing": "Filler hides", "template.gauges": "Gauges at",
  "paper.size": "Paper", "paper.margin": "Margin", "paper.overlap": "Overlap", "paper.orientation": "Orientation",
  "paper.bar_across": "Bar across", "paper.bar_up": "Bar up", "paper.draw_box": "Draw the boxes", "paper.card": "Card",
  "paper.max_sheets": "Most sheets", "paper.blocks": "Only blocks", "output.units": "Printed lengths in",
  "cutting.kerf": "Kerf at the fence", "cutting.trim": "Trim", "cutting.glue": "Glue line", "cutting.layers": "Most layers",
  "cutting.grain": "Grain", "cutting.smallest_offcut": "Smallest offcut",
  "wire.alloy": "Alloy", "wire.gauge": "Gauge", "wire.diameter": "Wire diameter", "wire.span": "Span", "wire.temperature": "Temperature",
  "wire.supply": "Supply", "wire.in_foam": "Wire in foam",
};

const HELP_OF_CHOICES = {
  "hull.nose.low": "low end of the axis", "hull.nose.high": "high end of the axis", "template.growth.varying": "varying", "foam.odd.nose": "the nose",
  "foam.odd.tail": "the tail", "foam.odd.both": "both ends", "output.units.in": "inches",
};

export const labelOf = (described) => LABELS[`${described.part}.${described.key}`] ?? described.label ?? described.key;
export const choiceWords = (described, choice) => HELP_OF_CHOICES[`${described.part}.${described.key}.${choice}`] ?? choice;

let options = null;
/** Text of the command line in the words of the page: --kerf is the field "Kerf", [[boards]] the table of boards. */
export function pageWords(text) {
  options ??= new Map(app.start.parts.flatMap((part) => part.fields.flatMap((entry) => (entry.option || "").split(/[ /]/).filter(Boolean).map((option) => [option, labelOf(entry)]))));
  return text
    .replace(/\s*Override with [^.]*?--[\w-]+(?: \d[\d.]*)?(?:(?:,| and| or) --[\w-]+)*\./g, "")
    .replace(/--[\w-]+/g, (option) => (options.has(option) ? `“${options.get(option)}”` : option))
    .replace(/\[\[?(boards|offcuts)\]?\]/g, "“Boards and offcuts”")
    .replace(/\[wire\]/g, "“Wire and supply”");
}
