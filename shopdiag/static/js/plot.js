/* Draws every element with data-plot-url from JSON {data, layout}.

   An element with data-plot-zoom asks its address again with ?from=&to=&pixels= when the
   person looks closer, so that detail comes from the server and the whole is never sent at
   once. While it is on its way the old curve stays. `layout.meta` may tell the recording's
   bounds; traces with meta.toggle get a box under the plot that shows and hides them. The
   event "plot:goto" {from_s, to_s} on the element leads to a stretch, and "plot:drawn" {range, asked, whole}
   tells what is drawn now and the curves of the whole.

   The parts: plot-look.js (colours), plot-names.js (names with room), plot-view.js (arithmetic), plot-gestures.js (wheel,
   pointer, keys, buttons), plot-cursors.js (two cursors), plot-overview.js (the strip). */
import { cursors } from "./plot-cursors.js";
import { gestures } from "./plot-gestures.js";
import { coloured, merged, themed } from "./plot-look.js";
import { namesWithRoom, wordsWithRoom } from "./plot-names.js";
import { overview } from "./plot-overview.js";
import { boundsOf, clamped, same, stretchWords } from "./plot-view.js";
import { filled, gettext } from "./words.js";

const CONFIG = { displayModeBar: false, doubleClick: false, scrollZoom: false };
const FAILED = gettext(
  "The curve could not be loaded; check the connection and reload this page.",
);
const SOON_MS = 80;
const SETTLED_MS = 160;
const PAPER_PX = 680; /* what A4 and Letter leave between the margins */
const plots = new Map();

function say(plot, sentence) {
  const element = plot.element;
  let state = element.parentNode.querySelector(".plot-trouble");
  if (!sentence) {
    state?.remove();
    return;
  }
  if (!state) {
    state = document.createElement("p");
    state.className = "plot-trouble finding finding-warn";
    state.setAttribute("role", "status");
    element.before(state);
  }
  state.textContent = sentence;
  element.querySelector(".plot-state")?.remove();
}

/* The stretch on the screen, as numbers. */
function range(plot) {
  return plot.view || [plot.bounds.start, plot.bounds.end];
}

function layoutOf(plot) {
  const layout = themed(plot.json.layout, plot.element.clientWidth);
  layout.uirevision = plot.element.dataset.plotUrl;
  if (plot.zooms) {
    layout.xaxis = merged(layout.xaxis, { range: [...range(plot)], autorange: false });
  }
  const drawn = plot.element._fullLayout;
  for (const name of Object.keys(layout).filter((k) => /^yaxis\d*$/.test(k))) {
    if (plot.moving && drawn?.[name]) {
      /* Heights stay while the hand moves, and fit what is in view once it rests. */
      layout[name] = merged(layout[name], { range: [...drawn[name].range], autorange: false });
    }
  }
  layout.width = plot.onPaper ? PAPER_PX : plot.element.clientWidth;
  layout.height = plot.element.clientHeight;
  return layout;
}

async function show(plot) {
  plot.element.querySelector(".plot-state")?.remove();
  const data = coloured(plot.json.data);
  for (const trace of data) {
    const toggle = trace.meta && trace.meta.toggle;
    if (toggle && plot.toggles.has(toggle)) {
      trace.visible = plot.toggles.get(toggle);
    }
  }
  const layout = layoutOf(plot);
  const axis = plot.element._fullLayout?.xaxis._length || layout.width - layout.margin.l - layout.margin.r;
  /* On paper the axis is not measured yet. */
  const wide = axis * (plot.drawnAt ? layout.width / plot.drawnAt : 1);
  layout.annotations = wordsWithRoom(layout, range(plot), wide);
  await Plotly.react(plot.element, namesWithRoom(data, range(plot), wide), layout, CONFIG);
  plot.drawnAt = layout.width;
  toggles(plot);
  follow(plot);
  const told = plot.frame?.querySelector("[data-plot-stretch]");
  if (told && plot.zooms && !plot.moving) {
    told.textContent = stretchWords(range(plot), plot.bounds, plot.loaded.wide);
  }
}

/* What lies over and beside the curve follows it. */
function follow(plot) {
  plot.cursors?.draw();
  plot.overview?.draw();
  const detail = { range: range(plot), asked: () => range(plot), whole: plot.whole?.data || [] };
  plot.element.dispatchEvent(new CustomEvent("plot:drawn", { bubbles: true, detail }));
}

function toggles(plot) {
  const place = plot.frame?.querySelector("[data-plot-toggles]");
  if (!place) {
    return;
  }
  const found = new Map();
  for (const trace of plot.json.data) {
    const name = trace.meta && trace.meta.toggle;
    if (name && !found.has(name)) {
      found.set(name, plot.toggles.get(name) ?? trace.visible !== false);
    }
  }
  place.hidden = !found.size;
  if ([...found.keys()].join("\n") === place.dataset.names) {
    return;
  }
  place.dataset.names = [...found.keys()].join("\n");
  place.replaceChildren(
    ...[...found].map(([name, on]) => {
      const label = document.createElement("label");
      const box = document.createElement("input");
      box.type = "checkbox";
      box.checked = on;
      box.addEventListener("change", function () {
        plot.toggles.set(name, box.checked);
        show(plot);
      });
      label.append(box, " " + filled(gettext("Show the %(name)s"), { name }));
      return label;
    }),
  );
}

function pixels(plot) {
  const wide = plot.element.clientWidth * Math.min(window.devicePixelRatio || 1, 2);
  return Math.min(Math.max(Math.ceil(wide / 100) * 100, 100), 4000);
}

async function load(plot) {
  const { view } = plot;
  const wide = pixels(plot);
  if (plot.asking && same(plot.asking.view, view) && plot.asking.wide === wide) {
    return;
  }
  plot.asking?.abort.abort();
  if (plot.loaded && same(plot.loaded.view, view) && plot.loaded.wide === wide) {
    plot.asking = null;
    await show(plot);
    return;
  }
  const asking = { view, wide, abort: new AbortController() };
  plot.asking = asking;
  const address = new URL(plot.element.dataset.plotUrl, location.href);
  if (view) {
    address.searchParams.set("from", view[0]);
    address.searchParams.set("to", view[1]);
  }
  address.searchParams.set("pixels", wide);
  try {
    const answer = await fetch(address, {
      signal: asking.abort.signal,
      credentials: "same-origin",
      headers: { Accept: "application/json" },
    });
    const json = await answer.json().catch(() => ({}));
    if (plot.asking !== asking) {
      return;
    }
    plot.asking = null;
    if (!answer.ok || !Array.isArray(json.data)) {
      throw new Error(json.error || FAILED);
    }
    plot.json = json;
    plot.loaded = asking;
    if (!plot.bounds || !view) {
      plot.bounds = boundsOf(json);
    }
    if (!view) {
      plot.whole = json;
    }
    await show(plot);
    say(plot, "");
    if (!plot.started) {
      plot.started = true;
      ready(plot);
    }
    if (!same(plot.view, view)) {
      soon(plot);
    }
  } catch (error) {
    if (plot.asking === asking) {
      plot.asking = null;
    }
    if (error.name !== "AbortError") {
      say(plot, error instanceof TypeError ? FAILED : error.message);
    }
  }
}

function ready(plot) {
  if (!plot.zooms || plot.listening) {
    return;
  }
  plot.listening = true;
  gestures(plot);
  const tools = plot.frame?.querySelector("[data-plot-tools]");
  if (tools) {
    tools.hidden = false;
  }
  plot.cursors = cursors(plot);
  plot.overview = overview(plot);
  follow(plot);
  if (plot.wanted) {
    look(plot, plot.wanted);
  }
}

/* Ask within a moment; while one question is under way the newest waits for its answer. */
function soon(plot) {
  if (!plot.asking && !plot.soon) {
    plot.soon = setTimeout(function () {
      plot.soon = 0;
      if (!plot.asking) {
        load(plot);
      }
    }, SOON_MS);
  }
}

/* Show another stretch at once with what is there, and get its detail. */
function look(plot, wanted) {
  const view = wanted && clamped(wanted, plot.bounds);
  if (!same(view, plot.view)) {
    plot.view = view;
    plot.moving = true;
    if (!plot.frameAsked) {
      plot.frameAsked = requestAnimationFrame(function () {
        plot.frameAsked = 0;
        if (plot.element.isConnected) {
          Plotly.relayout(plot.element, { "xaxis.range": [...range(plot)], "xaxis.autorange": false });
          follow(plot);
        }
      });
    }
    soon(plot);
  }
  rest(plot);
}

/* Once nothing moves any more: heights fit again, and an older question is dropped. */
function rest(plot) {
  clearTimeout(plot.resting);
  plot.resting = setTimeout(function () {
    if (plot.held) {
      rest(plot);
    } else if (plot.moving) {
      plot.moving = false;
      load(plot);
    }
  }, SETTLED_MS);
}

/* What lies behind a fold has a size in some browsers, and none in others. */
function isSeen(element) {
  return element.clientWidth > 0 && element.checkVisibility?.() !== false;
}

function resized(plot) {
  if (plot.onPaper || !isSeen(plot.element)) {
    return;
  }
  if (!plot.json) {
    /* A plot in a closed part of the page begins once it is opened. */
    load(plot);
    return;
  }
  show(plot);
  if (plot.loaded && plot.loaded.wide < pixels(plot)) {
    soon(plot);
  }
}

function start() {
  for (const element of document.querySelectorAll("[data-plot-url]")) {
    if (plots.has(element)) {
      continue;
    }
    const plot = {
      element,
      frame: element.closest("figure"),
      zooms: "plotZoom" in element.dataset,
      view: null,
      toggles: new Map(),
      range: () => range(plot),
      look: (view) => look(plot, view),
    };
    plots.set(element, plot);
    if (typeof Plotly === "undefined") {
      say(plot, FAILED);
      continue;
    }
    let width = -1;
    element.addEventListener("plot:goto", function (event) {
      event.preventDefault();
      plot.wanted = [event.detail.from_s, event.detail.to_s];
      if (plot.listening) {
        look(plot, plot.wanted);
      }
    });
    plot.watching = new ResizeObserver(function () {
      if (element.clientWidth !== width) {
        width = element.clientWidth;
        resized(plot);
      }
    });
    plot.watching.observe(element);
    resized(plot);
  }
}

document.addEventListener("DOMContentLoaded", start);
document.addEventListener("toggle", () => plots.forEach((plot) => plot.json || resized(plot)), true);
document.addEventListener("htmx:afterSettle", function () {
  for (const [element, plot] of plots) {
    if (!element.isConnected) {
      plot.asking?.abort.abort();
      plot.asking = null; /* its answer has no page to stand on any more */
      clearTimeout(plot.resting);
      clearTimeout(plot.soon);
      plot.watching?.disconnect();
      plots.delete(element);
    }
  }
  start();
});

function redraw(onPaper) {
  for (const plot of plots.values()) {
    plot.onPaper = onPaper;
    if (plot.json && isSeen(plot.element)) {
      show(plot);
    }
  }
}
document.addEventListener("themechange", () => redraw(false));
/* Paper is white and narrow: draw in the print colours and to its width while printing. */
window.addEventListener("beforeprint", () => redraw(true));
window.addEventListener("afterprint", () => redraw(false));
