/* A tap on a hump of the judged curve, or Enter on it: what it is, and what a person can do about it.

   Every choice fills in a form that stands on the page anyway, so that nothing here can do what the
   page without scripts cannot. What is judged anew at once can be undone beside the verdict. */
import { drawHumps, humpsOf } from "./plot-hump-keys.js";
import { filled, gettext } from "./words.js";

const NEAR_PX = 24;
const OVER_PX = 8;
const menu = () => document.getElementById("hump-menu");
const own = (name) => document.querySelector(`#by-hand input[name="do"][value="${name}"]`)?.form;
let hump = null;
let opener = null;

/* The hump nearest to a tap, as the plot draws it. */
function nearest(plot, x) {
  const { xaxis } = plot._fullLayout;
  let found = null;
  for (const one of humpsOf(plot.data)) {
    const away = Math.abs(xaxis._offset + xaxis.l2p(one.at_s) - x);
    if (away <= (found ? found.away : NEAR_PX)) {
      found = { ...one, away };
    }
  }
  return found;
}

function wordsOf(one) {
  const known = "labelled" in menu().dataset;
  return filled(known ? gettext("Cylinder %(name)s, cycle %(cycle)s") : gettext("Place %(name)s, cycle %(cycle)s"), one);
}

/* The cylinders that the sets left open allow at a hump; null where all are to be offered. */
function fittingAt(name) {
  for (const one of (menu().dataset.fitting || "").split(" ")) {
    const [place, numbers] = one.split(":");
    if (numbers && place === String(name)) {
      return numbers.split(",");
    }
  }
  return null;
}

function cycleBox() {
  const boxes = [...(own("leave-out")?.querySelectorAll('input[name="spans"]') || [])];
  return boxes.find((box) => {
    const [from, to] = box.value.split(":").map(Number);
    return from <= hump.at_s && hump.at_s < to;
  });
}

function close() {
  const shown = menu();
  const button = opener;
  hump = opener = null;
  if (!shown) {
    return;
  }
  button?.setAttribute("aria-expanded", "false");
  const inside = shown.contains(document.activeElement);
  shown.hidden = true;
  if (inside) {
    button?.focus({ preventScroll: true });
  }
}

function open(plot, x) {
  const shown = menu();
  const known = "labelled" in shown.dataset;
  shown.querySelector("[data-hump-what]").textContent = wordsOf(hump);
  const select = shown.querySelector("select");
  if (select && known) {
    select.value = hump.name;
  }
  if (select && !known) {
    const fitting = fittingAt(hump.name);
    for (const option of select.options) {
      option.hidden = option.disabled = Boolean(fitting && !fitting.includes(option.value));
    }
    if (fitting && !fitting.includes(select.value)) {
      select.value = fitting[0];
    }
  }
  const leaves = shown.querySelector('[data-hump-do="cycle"]');
  if (leaves) {
    leaves.hidden = !cycleBox();
  }
  shown.hidden = false;
  const room = plot.closest("figure").clientWidth - shown.offsetWidth;
  shown.style.left = Math.max(0, Math.min(plot.offsetLeft + x - shown.offsetWidth / 2, room)) + "px";
  /* Under the curve: the hump stays in sight, and the tap's own click cannot land in here. */
  shown.style.top = plot.offsetTop + plot.offsetHeight - OVER_PX + "px";
  shown.scrollIntoView({ block: "nearest" });
}

function set(form, name, value) {
  const field = form.elements.namedItem(name);
  field.value = value;
  field.dispatchEvent(new Event("input", { bubbles: true }));
}

/* Show a form with what was filled in, and where to go on. */
function show(form, next) {
  for (let e = form; e; e = e.parentElement) {
    if (e.tagName === "DETAILS") {
      e.open = true;
    }
  }
  form.scrollIntoView({ block: "center" });
  next.focus({ preventScroll: true });
}

const ACTS = {
  close() {},
  cylinder() {
    const { sequence, labelled } = menu().dataset;
    const order = sequence.split(",");
    const wanted = menu().querySelector("select").value;
    if (labelled === undefined) {
      const form = own("mark");
      set(form, "at_s", hump.at_s.toFixed(6));
      set(form, "cylinder", wanted);
      set(form, "event", "tdc");
      form.requestSubmit();
      return;
    }
    let places = order.indexOf(wanted) - order.indexOf(String(hump.name));
    places -= Math.round(places / order.length) * order.length; /* the shorter way round */
    if (places) {
      const form = own("on");
      set(form, "places", places);
      form.requestSubmit();
    }
  },
  cycle() {
    const form = own("leave-out");
    const chosen = cycleBox();
    form.querySelectorAll('input[name="spans"]').forEach((box) => (box.checked = box === chosen));
    form.requestSubmit();
  },
  from() {
    const form = own("span");
    set(form, "from_s", hump.at_s.toFixed(6));
    if (menu().dataset.judgedTo) {
      set(form, "to_s", menu().dataset.judgedTo);
    }
    show(form, form.querySelector("button"));
  },
  note() {
    const form = document.querySelector("#notes form[data-follows-cursors]");
    set(form, "at_s", hump.at_s.toFixed(6));
    show(form, form.querySelector("textarea"));
  },
};

/* Enter on a hump: the menu takes the keyboard, and gives it back to the hump when it closes. */
function openByKey(plot, one, button) {
  close();
  hump = one;
  opener = button;
  button.setAttribute("aria-expanded", "true");
  const { xaxis } = plot._fullLayout;
  open(plot, xaxis._offset + xaxis.l2p(one.at_s));
  menu().querySelector("select, [data-hump-do]:not([hidden], [data-hump-do=close])")?.focus({ preventScroll: true });
}

document.addEventListener("plot:drawn", function (event) {
  const plot = event.target;
  if (menu() && plot.id === "curve-plot") {
    drawHumps(plot, event.detail, wordsOf, (one, button) => openByKey(plot, one, button));
  }
});
document.addEventListener("plot:tapped", function (event) {
  const plot = event.target;
  close();
  if (menu() && plot.id === "curve-plot" && !event.detail.twice) {
    hump = nearest(plot, event.detail.x);
    if (hump) {
      open(plot, event.detail.x);
    }
  }
});
document.addEventListener("click", function (event) {
  const button = event.target.closest("[data-hump-do]");
  if (button && hump) {
    ACTS[button.dataset.humpDo]();
    close();
  }
});
document.addEventListener("keydown", function (event) {
  if (event.key === "Escape" && hump) {
    close();
  }
});
document.addEventListener("focusin", function (event) {
  if (opener && event.target !== opener && !menu().contains(event.target)) {
    close();
  }
});
