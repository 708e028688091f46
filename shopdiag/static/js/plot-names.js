/* Names of humps, where they have room: none lies on another at the width that is drawn.

   Traces with meta.names carry them; those named last in the JSON come first. Numbers that have no
   room come back when the person zooms in. */
import { token } from "./plot-look.js";

const GAP_PX = 3;
const UPRIGHT_PX = 20; /* across a word that stands upright, with its ground */
const measure = document.createElement("canvas").getContext("2d");

function widthOf(text, font) {
  measure.font = `${font.weight || 400} ${font.size || 12}px ${token("font-text")}`;
  return measure.measureText(text).width;
}

/* Where each name of a trace would stand, in pixels. */
function places(trace, [from, to], width) {
  return Array.from(trace.x, (at, i) => {
    const middle = ((at - from) / (to - from)) * width;
    const half = widthOf(trace.text[i], trace.textfont || {}) / 2 + GAP_PX / 2;
    return { left: middle - half, right: middle + half };
  });
}

const apart = (one, other) => one.right <= other.left || other.right <= one.left;

/* Returns the traces with the names that have room in `width` pixels for the stretch `range`.
   Good cylinders, which have no entry in the legend, are named all or not at all. */
export function namesWithRoom(data, range, width) {
  const taken = [];
  const shown = [...data];
  for (let i = data.length - 1; i >= 0; i -= 1) {
    const trace = data[i];
    if (!trace.meta?.names || trace.visible === false || !trace.mode?.includes("text")) {
      continue;
    }
    const boxes = places(trace, range, width);
    const has = boxes.map(
      (box, n) => taken.every((other) => apart(box, other)) && (n === 0 || apart(box, boxes[n - 1])),
    );
    const all = trace.showlegend !== false || has.every(Boolean);
    const text = trace.text.map((name, n) => (all && has[n] ? name : ""));
    boxes.forEach((box, n) => text[n] && taken.push(box));
    shown[i] = { ...trace, text };
  }
  return shown;
}

/* Returns the layout's words without those upright in a band that is narrower than they are: they
   would hide the curve beside it. They come back when the person zooms in. */
export function wordsWithRoom({ annotations = [], shapes = [] }, [from, to], width) {
  const bands = shapes.filter((shape) => shape.type === "rect");
  const hasRoom = ({ x }) =>
    bands
      .filter((band) => band.x0 <= x && x <= band.x1)
      .every((band) => ((Math.min(band.x1, to) - Math.max(band.x0, from)) / (to - from)) * width >= UPRIGHT_PX);
  return annotations.filter((word) => word.textangle !== -90 || hasRoom(word));
}
