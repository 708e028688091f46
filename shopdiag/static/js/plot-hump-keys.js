/* Humps by keyboard and screen reader: over each lies a button that a pointer does not meet.

   One of them is in the row of the Tab key. Arrows, Home and End lead to the others, and the curve
   follows; Enter presses. */
import { gettext } from "./words.js";

const layers = new WeakMap();

/* The humps among a judged curve's traces in the order of their times. */
export function humpsOf(traces) {
  const found = [];
  for (const trace of traces.filter((one) => one.meta?.names)) {
    trace.x.forEach((at_s, i) => {
      const [name, cycle] = trace.customdata[i];
      found.push({ at_s, name, cycle });
    });
  }
  return found.sort((one, other) => one.at_s - other.at_s);
}

function made(plot, press) {
  const box = document.createElement("div");
  box.className = "plot-humps no-print";
  box.setAttribute("role", "group");
  box.setAttribute("aria-label", gettext("Humps"));
  plot.append(box);
  const layer = { box, humps: [], at: 0, press };
  layers.set(plot, layer);
  box.addEventListener("keydown", (event) => pressed(plot, layer, event));
  return layer;
}

function pressed(plot, layer, event) {
  const last = layer.humps.length - 1;
  const to = {
    ArrowLeft: layer.at - 1,
    ArrowUp: layer.at - 1,
    ArrowRight: layer.at + 1,
    ArrowDown: layer.at + 1,
    Home: 0,
    End: last,
  }[event.key];
  if (event.altKey || event.ctrlKey || event.metaKey || event.shiftKey) {
    return;
  }
  if (to !== undefined) {
    event.preventDefault();
    event.stopPropagation(); /* the curve has ways of its own for these keys */
    choose(plot, layer, Math.min(Math.max(to, 0), last));
    layer.box.children[layer.at].focus({ preventScroll: true });
  } else if (["Enter", " "].includes(event.key)) {
    event.stopPropagation();
  }
}

/* Make a hump the one that has the keyboard; where it lies outside, the curve comes to it. */
function choose(plot, layer, index) {
  layer.at = index;
  const [from, to] = layer.asked(); /* a closer look may be on its way */
  const { at_s } = layer.humps[index];
  place(plot, layer);
  if (at_s < from || at_s > to) {
    const half = (to - from) / 2;
    const detail = { from_s: at_s - half, to_s: at_s + half };
    plot.dispatchEvent(new CustomEvent("plot:goto", { bubbles: true, cancelable: true, detail }));
  }
}

function place(plot, layer) {
  const { xaxis, _size } = plot._fullLayout;
  const [from, to] = layer.range;
  layer.box.style.left = xaxis._offset + "px";
  layer.box.style.width = xaxis._length + "px";
  layer.box.style.top = _size.t + "px";
  layer.box.style.height = _size.h + "px";
  [...layer.box.children].forEach((button, i) => {
    const share = (layer.humps[i].at_s - from) / (to - from);
    const here = i === layer.at;
    button.tabIndex = here ? 0 : -1;
    button.hidden = !here && (share < 0 || share > 1);
    button.style.left = 100 * Math.min(Math.max(share, 0), 1) + "%";
  });
}

function filledWith(layer, humps, words) {
  layer.humps = humps;
  layer.box.replaceChildren(
    ...humps.map((hump) => {
      const button = document.createElement("button");
      button.type = "button";
      button.className = "plot-hump";
      button.setAttribute("aria-label", words(hump));
      button.setAttribute("aria-controls", "hump-menu");
      button.setAttribute("aria-expanded", "false");
      button.addEventListener("click", () => layer.press(hump, button));
      return button;
    }),
  );
}

/* Lay the buttons over the curve as it is drawn now. */
export function drawHumps(plot, { range, asked, whole }, words, press) {
  const layer = layers.get(plot) || made(plot, press);
  const humps = humpsOf(whole);
  layer.range = range;
  layer.asked = asked;
  layer.box.hidden = !humps.length;
  const before = layer.humps.map((h) => `${h.at_s} ${h.name}`).join();
  if (humps.map((h) => `${h.at_s} ${h.name}`).join() !== before) {
    layer.at = 0;
    filledWith(layer, humps, words);
  }
  const inView = (hump) => hump && range[0] <= hump.at_s && hump.at_s <= range[1];
  if (humps.length && !layer.box.contains(document.activeElement) && !inView(humps[layer.at])) {
    layer.at = Math.max(humps.findIndex(inView), 0);
  }
  if (humps.length) {
    place(plot, layer);
  }
}
