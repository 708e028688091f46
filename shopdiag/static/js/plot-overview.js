/* The strip above a plot: the whole recording in small, and which part of it is shown. */
import { axisOf } from "./plot-gestures.js";
import { token } from "./plot-look.js";
import { numbers } from "./plot-view.js";

function paint(canvas, json, bounds) {
  const ratio = window.devicePixelRatio || 1;
  const [width, height] = [canvas.clientWidth, canvas.clientHeight];
  canvas.width = width * ratio;
  canvas.height = height * ratio;
  const pen = canvas.getContext("2d");
  pen.scale(ratio, ratio);
  const trace = json.data[0] || {};
  const [x, y] = [numbers(trace.x), numbers(trace.y)];
  const finite = Array.from(y).filter(Number.isFinite);
  const low = finite.reduce((a, b) => Math.min(a, b), Infinity);
  const span = finite.reduce((a, b) => Math.max(a, b), -Infinity) - low || 1;
  pen.strokeStyle = token("ink-soft");
  pen.lineWidth = 1;
  pen.beginPath();
  let up = true;
  for (let i = 0; i < x.length; i++) {
    if (!Number.isFinite(y[i])) {
      up = true;
      continue;
    }
    const across = ((x[i] - bounds.start) / (bounds.end - bounds.start)) * width;
    const down = height - 3 - ((y[i] - low) / span) * (height - 6);
    pen[up ? "moveTo" : "lineTo"](across, down);
    up = false;
  }
  pen.stroke();
}

export function overview(plot) {
  const strip = plot.frame?.querySelector("[data-plot-overview]");
  if (!strip) {
    return null;
  }
  strip.hidden = false;
  const canvas = document.createElement("canvas");
  const shown = document.createElement("div");
  shown.className = "plot-window";
  strip.replaceChildren(canvas, shown);
  let painted = "";

  function draw() {
    if (!plot.whole || !strip.clientWidth) {
      return;
    }
    const axis = axisOf(plot);
    canvas.style.marginLeft = axis.left + "px";
    canvas.style.width = axis.width + "px";
    const look = [axis.width, token("ink-soft"), window.devicePixelRatio].join();
    if (look !== painted) {
      painted = look;
      paint(canvas, plot.whole, plot.bounds);
    }
    const { start, end } = plot.bounds;
    const share = (time) => ((time - start) / (end - start)) * axis.width;
    const view = plot.range();
    shown.style.left = axis.left + share(view[0]) + "px";
    shown.style.width = Math.max(share(view[1]) - share(view[0]), 3) + "px";
    shown.hidden = !plot.view;
  }

  function go(event) {
    const view = plot.range();
    const box = canvas.getBoundingClientRect();
    const share = (event.clientX - box.left) / box.width;
    const at = plot.bounds.start + share * (plot.bounds.end - plot.bounds.start);
    const half = (view[1] - view[0]) / 2;
    if (plot.view) {
      plot.look([at - half, at + half]);
    }
  }
  strip.addEventListener("pointerdown", function (event) {
    if (event.button === 0) {
      plot.held = true;
      strip.setPointerCapture(event.pointerId);
      go(event);
    }
  });
  strip.addEventListener("pointermove", (event) => strip.hasPointerCapture(event.pointerId) && go(event));
  for (const name of ["pointerup", "pointercancel"]) {
    strip.addEventListener(name, function () {
      plot.held = false;
      plot.look(plot.view);
    });
  }
  return { draw };
}
