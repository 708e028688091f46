/* Two measuring cursors of a plot: A and B, in the file's own time, always on a sample.

   Tells others by the event "plot:cursors" {a_s, b_s}, and fills inputs with data-cursor in
   forms with data-follows-cursors. The values come from the server's samples. */
import { axisOf } from "./plot-gestures.js";
import { snapped } from "./plot-view.js";
import { filled, gettext, written } from "./words.js";

const FLAG_PX = 48;
const FLAG_HALF_PX = 24;
const ASK_MS = 120;
const STEPS = 100; /* Shift + arrow moves by this part of the view */
const NAMES = ["a", "b"];

function figure(value, digits = 6) {
  if (value === null || value === undefined) {
    return "–";
  }
  return written(String(Number(value.toPrecision(digits))).replace("-", "−"));
}

/* A form with both times asks for a stretch: the earlier cursor begins it. */
function fill(detail) {
  const times = [detail.a_s, detail.b_s];
  const both = times.every((at) => at !== null) && times[0] > times[1];
  for (const form of document.querySelectorAll("form[data-follows-cursors]")) {
    const inputs = NAMES.map((name) => form.querySelector(`input[data-cursor="${name}"]`));
    const turned = both && inputs.every(Boolean);
    inputs.forEach((input, i) => {
      if (input) {
        const at = times[turned ? 1 - i : i];
        input.value = at === null ? "" : at.toFixed(6);
        input.dispatchEvent(new Event("input", { bubbles: true }));
      }
    });
  }
}

/* Label and value of each fact that the two times tell. */
function facts(at, bounds) {
  const seconds = bounds.unit === "s";
  const digits = Math.min(Math.max(Math.ceil(Math.log10(bounds.rate)) + 1, 3), 9);
  const degrees = bounds.unit === "deg";
  const angle = (t) => written(`${t.toFixed(1)}°`.replace("-", "−"));
  const place = (t) => (degrees ? angle(t) : filled(gettext("sample %(number)s"), { number: Math.round(t) }));
  const time = (t) => (seconds ? written(`${t.toFixed(digits)} s`) : place(t));
  const found = NAMES.filter((n) => at[n] !== null).map((n) => [n.toUpperCase(), time(at[n])]);
  if (at.a === null || at.b === null) {
    return found;
  }
  const apart = at.b - at.a;
  if (!seconds) {
    return [...found, ["B − A", degrees ? angle(apart) : filled(gettext("%(count)s samples"), { count: Math.round(apart) })]];
  }
  const apart_ms = written((apart * 1000).toFixed(Math.max(digits - 3, 1)).replace("-", "−"));
  found.push(["B − A", `${apart_ms} ms`]);
  if (apart !== 0) {
    const hertz = 1 / Math.abs(apart);
    found.push(
      [gettext("As a frequency"), `${figure(hertz, 5)} Hz`],
      [gettext("If one engine cycle"), `${figure(120 * hertz, 5)} ${gettext("rpm")}`],
      [gettext("If one crank turn"), `${figure(60 * hertz, 5)} ${gettext("rpm")}`],
    );
  }
  return found;
}

function facted([label, value]) {
  const row = document.createElement("div");
  const [dt, dd] = [document.createElement("dt"), document.createElement("dd")];
  dt.textContent = label;
  dd.textContent = value;
  row.append(dt, dd);
  return row;
}

function rowOf(channel) {
  const row = document.createElement("tr");
  const head = document.createElement("th");
  head.scope = "row";
  head.dataset.label = gettext("Channel");
  head.textContent = channel.unit ? `${channel.name}, ${channel.unit}` : channel.name;
  row.append(head);
  const mean = figure(channel.mean, 5);
  const about = filled(gettext("about %(figure)s"), { figure: mean });
  for (const [label, value] of [
    [gettext("At A"), figure(channel.a)],
    [gettext("At B"), figure(channel.b)],
    ["B − A", figure(channel.difference)],
    [gettext("Least between"), figure(channel.minimum)],
    [gettext("Mean between"), channel.mean_is_sampled ? about : mean],
    [gettext("Most between"), figure(channel.maximum)],
  ]) {
    const cell = document.createElement("td");
    cell.className = "number";
    cell.dataset.label = label;
    cell.textContent = value;
    row.append(cell);
  }
  return row;
}

export function cursors(plot) {
  const at = { a: null, b: null };
  let last = "a";
  let asked = 0;
  let asking = null;
  const lines = {};
  for (const name of NAMES) {
    const line = document.createElement("div");
    line.className = `plot-cursor plot-cursor-${name}`;
    line.hidden = true;
    const flag = document.createElement("span");
    flag.textContent = name.toUpperCase();
    line.append(flag);
    plot.element.append(line);
    lines[name] = line;
  }
  const out = plot.frame?.querySelector("[data-plot-readout]");

  function left(name) {
    const view = plot.range();
    const axis = axisOf(plot);
    return axis.left + ((at[name] - view[0]) / (view[1] - view[0])) * axis.width;
  }

  function draw() {
    const axis = axisOf(plot);
    for (const name of NAMES) {
      const x = at[name] === null ? NaN : left(name);
      lines[name].hidden = !(x >= axis.left - 1 && x <= axis.left + axis.width + 1);
      if (!lines[name].hidden) {
        lines[name].style.left = x + "px";
        lines[name].style.height = axis.foot + "px";
      }
    }
  }

  function write(values) {
    if (!out) {
      return;
    }
    out.hidden = at.a === null && at.b === null;
    const told = facts(at, plot.bounds);
    out.querySelector("dl").replaceChildren(...told.map(facted));
    const table = out.querySelector("table");
    if (values) {
      table.hidden = false;
      table.querySelector("tbody").replaceChildren(...values.channels.map(rowOf));
    }
    for (const cell of values ? [] : table.querySelectorAll("td")) {
      cell.textContent = "…"; /* no old value beside a new time */
    }
  }

  function announce(values) {
    const words = facts(at, plot.bounds).map(([label, value]) => `${label}: ${value}`);
    for (const channel of values?.channels || []) {
      const unit = channel.unit ? " " + channel.unit : "";
      const [a, b] = [figure(channel.a) + unit, figure(channel.b) + unit];
      const pair = filled(gettext("%(a)s at A, %(b)s at B"), { a, b });
      words.push(`${channel.name}: ${pair}`);
    }
    const live = out?.querySelector("[aria-live]");
    if (live) {
      live.textContent = words.length ? words.join("; ") + "." : gettext("No cursor is set.");
    }
  }

  /* The samples themselves; a moment after the last step, so that a drag asks once. */
  function ask() {
    clearTimeout(asked);
    asking?.abort();
    asked = setTimeout(async function () {
      const url = plot.element.dataset.plotValues;
      if (!url || (at.a === null && at.b === null)) {
        announce(null);
        return;
      }
      asking = new AbortController();
      const { signal } = asking;
      const address = new URL(url, location.href);
      for (const name of NAMES.filter((n) => at[n] !== null)) {
        address.searchParams.set(name, at[name]);
      }
      try {
        const answer = await fetch(address, { signal, credentials: "same-origin" });
        const values = answer.ok ? await answer.json() : null;
        if (!signal.aborted) {
          write(values);
          announce(values);
        }
      } catch (error) {
        if (error.name !== "AbortError") {
          announce(null);
        }
      }
    }, ASK_MS);
  }

  function changed() {
    draw();
    write(null);
    ask();
    const detail = { a_s: at.a, b_s: at.b };
    fill(detail);
    plot.element.dispatchEvent(new CustomEvent("plot:cursors", { bubbles: true, detail }));
  }

  function move(name, time) {
    const view = plot.range();
    const inside = Math.min(Math.max(time, view[0]), view[1]);
    last = name;
    at[name] = snapped(inside, plot.bounds);
    changed();
  }

  /* Set A, then B; after that the nearer of the two. Returns which it was. */
  function place(time) {
    const free = NAMES.find((n) => at[n] === null);
    const nearer = Math.abs(time - at.a) <= Math.abs(time - at.b) ? "a" : "b";
    const name = free || nearer;
    move(name, time);
    return name;
  }

  /* The cursor whose flag is under a point, or whose line is within `px` of it, if any. */
  function near(point, px) {
    const reach = (n) => Math.abs(left(n) - point.x);
    const flagged = point.y <= FLAG_PX ? FLAG_HALF_PX : 0;
    return NAMES.filter((n) => at[n] !== null && !lines[n].hidden)
      .filter((n) => reach(n) <= Math.max(px, flagged))
      .sort((one, other) => reach(one) - reach(other))[0];
  }

  function step(by) {
    if (at[last] === null) {
      return false;
    }
    const time = at[last] + by;
    const { start, end } = plot.bounds;
    at[last] = snapped(Math.min(Math.max(time, start), end), plot.bounds);
    const view = plot.range();
    const span = view[1] - view[0];
    if (at[last] < view[0] || at[last] > view[1]) {
      plot.look([at[last] - span / 2, at[last] + span / 2]);
    }
    changed();
    return true;
  }

  /* Returns whether the key was one of the cursors'. */
  function key(event) {
    const view = plot.range();
    const sample = 1 / plot.bounds.rate;
    const part = Math.max((view[1] - view[0]) / STEPS, sample);
    const name = event.key.toLowerCase();
    if (NAMES.includes(name)) {
      const hidden = at[name] === null || at[name] < view[0] || at[name] > view[1];
      last = name;
      if (hidden || !event.shiftKey) {
        move(name, (view[0] + view[1]) / 2);
      }
      return true;
    }
    const steps = { ",": -sample, ".": sample };
    if (event.shiftKey) {
      Object.assign(steps, { ArrowLeft: -part, ArrowRight: part });
    }
    return event.key in steps && step(steps[event.key]);
  }

  function clear() {
    at.a = at.b = null;
    changed();
  }

  return { draw, near, place, move, key, clear };
}
