/* Draws every element with data-plot-url from JSON {data, layout}.

   Colours in the JSON are named by token, "token:ink", and follow the theme. An element with
   data-plot-zoom asks its address again with ?from=&to= when the person zooms, so that detail
   comes from the server and the whole is never sent at once. */
(function () {
  "use strict";
  const CONFIG = {
    displaylogo: false,
    responsive: true,
    modeBarButtonsToRemove: ["select2d", "lasso2d", "autoScale2d"],
  };
  const FAILED = "The curve could not be loaded; check the connection and reload this page.";
  const plots = new Map();

  function token(name) {
    return getComputedStyle(document.documentElement).getPropertyValue("--" + name).trim();
  }

  function coloured(value) {
    if (typeof value === "string") {
      return value.startsWith("token:") ? token(value.slice(6)) : value;
    }
    if (Array.isArray(value)) {
      return typeof value[0] === "number" ? value : value.map(coloured);
    }
    if (value && typeof value === "object") {
      return Object.fromEntries(Object.entries(value).map(([k, v]) => [k, coloured(v)]));
    }
    return value;
  }

  function merged(base, over) {
    const result = { ...base };
    for (const [key, value] of Object.entries(over || {})) {
      const both = value && typeof value === "object" && !Array.isArray(value) && base[key];
      result[key] = both ? merged(base[key], value) : value;
    }
    return result;
  }

  function axis() {
    return {
      gridcolor: token("rule"),
      gridwidth: 0.5,
      linecolor: token("ink"),
      tickcolor: token("ink"),
      zerolinecolor: token("ink-soft"),
      showline: true,
      ticks: "outside",
      automargin: true,
    };
  }

  function themed(layout) {
    const base = {
      paper_bgcolor: "rgba(0,0,0,0)",
      plot_bgcolor: "rgba(0,0,0,0)",
      colorway: [token("ink"), token("pen"), token("warn"), token("ink-soft")],
      font: { color: token("ink"), family: token("font-text"), size: 14 },
      hoverlabel: {
        bgcolor: token("card"),
        bordercolor: token("ink"),
        font: { color: token("ink"), family: token("font-text") },
      },
      modebar: { bgcolor: "rgba(0,0,0,0)", color: token("ink-soft"), activecolor: token("ink") },
      margin: { l: 56, r: 16, t: 36, b: 48 },
      dragmode: "zoom",
      legend: { orientation: "h", y: 1.02, yanchor: "bottom", x: 0 },
    };
    const full = merged(base, coloured(layout));
    for (const name of ["xaxis", "yaxis"]) {
      full[name] = full[name] || {};
    }
    for (const name of Object.keys(full).filter((k) => /^[xy]axis\d*$/.test(k))) {
      full[name] = merged(axis(), full[name]);
    }
    return full;
  }

  function say(element, sentence) {
    let state = element.parentNode.querySelector(".plot-trouble");
    if (!sentence) {
      if (state) {
        state.remove();
      }
      return;
    }
    if (!state) {
      state = document.createElement("p");
      state.className = "plot-trouble finding finding-warn";
      state.setAttribute("role", "status");
      element.before(state);
    }
    state.textContent = sentence;
    const waiting = element.querySelector(".plot-state");
    if (waiting) {
      waiting.remove();
    }
  }

  function show(element) {
    const plot = plots.get(element);
    const layout = themed(plot.json.layout);
    layout.uirevision = element.dataset.plotUrl;
    if (plot.range) {
      layout.xaxis = merged(layout.xaxis, { range: plot.range, autorange: false });
    }
    const waiting = element.querySelector(".plot-state");
    if (waiting) {
      waiting.remove();
    }
    return Plotly.react(element, coloured(plot.json.data), layout, CONFIG);
  }

  async function load(element) {
    const plot = plots.get(element);
    plot.asking?.abort();
    const asking = new AbortController();
    plot.asking = asking;
    const address = new URL(element.dataset.plotUrl, location.href);
    if (plot.range) {
      address.searchParams.set("from", plot.range[0]);
      address.searchParams.set("to", plot.range[1]);
    }
    try {
      const answer = await fetch(address, {
        signal: asking.signal,
        credentials: "same-origin",
        headers: { Accept: "application/json" },
      });
      const json = await answer.json().catch(() => ({}));
      if (!answer.ok || !Array.isArray(json.data)) {
        throw new Error(json.error || FAILED);
      }
      plot.json = json;
      await show(element);
      say(element, "");
      if (!plot.listening) {
        plot.listening = true;
        listen(element);
      }
    } catch (error) {
      if (error.name !== "AbortError") {
        say(element, error instanceof TypeError ? FAILED : error.message);
      }
    }
  }

  function listen(element) {
    if (!("plotZoom" in element.dataset)) {
      return;
    }
    element.on("plotly_relayout", function (change) {
      const plot = plots.get(element);
      if (change["xaxis.autorange"]) {
        plot.range = null;
      } else if ("xaxis.range[0]" in change) {
        plot.range = [Number(change["xaxis.range[0]"]), Number(change["xaxis.range[1]"])];
      } else if (Array.isArray(change["xaxis.range"])) {
        plot.range = change["xaxis.range"].map(Number);
      } else {
        return;
      }
      clearTimeout(plot.soon);
      plot.soon = setTimeout(() => load(element), 150);
    });
  }

  function onKey(event) {
    const element = event.currentTarget;
    const shown = element._fullLayout && element._fullLayout.xaxis;
    if (!shown || event.altKey || event.ctrlKey || event.metaKey) {
      return;
    }
    const [from, to] = shown.range;
    const span = to - from;
    const moves = {
      "+": [from + span / 4, to - span / 4],
      "-": [from - span / 2, to + span / 2],
      ArrowLeft: [from - span / 4, to - span / 4],
      ArrowRight: [from + span / 4, to + span / 4],
    };
    moves["="] = moves["+"];
    if (event.key in moves) {
      event.preventDefault();
      Plotly.relayout(element, {
        "xaxis.range[0]": moves[event.key][0],
        "xaxis.range[1]": moves[event.key][1],
      });
    } else if (event.key === "0") {
      event.preventDefault();
      Plotly.relayout(element, { "xaxis.autorange": true });
    }
  }

  function start(root) {
    for (const element of root.querySelectorAll("[data-plot-url]")) {
      if (plots.has(element)) {
        continue;
      }
      plots.set(element, { json: null, range: null });
      if (typeof Plotly === "undefined") {
        say(element, FAILED);
        continue;
      }
      element.addEventListener("keydown", onKey);
      load(element);
    }
  }

  document.addEventListener("DOMContentLoaded", () => start(document));
  document.addEventListener("htmx:afterSettle", function () {
    for (const element of plots.keys()) {
      if (!element.isConnected) {
        plots.get(element).asking?.abort();
        plots.delete(element);
      }
    }
    start(document);
  });
  function redraw() {
    for (const [element, plot] of plots) {
      if (plot.json) {
        show(element);
      }
    }
  }
  document.addEventListener("themechange", redraw);
  /* Paper is white: draw in the print colours while printing. */
  window.addEventListener("beforeprint", redraw);
  window.addEventListener("afterprint", redraw);
})();
