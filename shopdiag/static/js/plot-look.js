/* How plots look: colours by token and theme, and the parts that all plots share.

   Colours in the JSON are named by token, "token:ink", and follow the theme. */
import { SEPARATORS } from "./words.js";

const NARROW_PX = 480; /* a phone held upright */

export function token(name) {
  return getComputedStyle(document.documentElement).getPropertyValue("--" + name).trim();
}

export function coloured(value) {
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

export function merged(base, over) {
  const result = { ...base };
  for (const [key, value] of Object.entries(over || {})) {
    const both = value && typeof value === "object" && !Array.isArray(value) && base[key];
    result[key] = both ? merged(base[key], value) : value;
  }
  return result;
}

function axis(narrow) {
  return {
    gridcolor: token("rule"),
    gridwidth: 0.5,
    linecolor: token("ink"),
    tickcolor: token("ink"),
    zerolinecolor: token("ink-soft"),
    showline: true,
    ticks: "outside",
    automargin: true,
    title: { standoff: narrow ? 4 : 10 },
  };
}

export function themed(layout, width) {
  const narrow = width < NARROW_PX;
  const base = {
    paper_bgcolor: "rgba(0,0,0,0)",
    plot_bgcolor: "rgba(0,0,0,0)",
    colorway: [token("ink"), token("pen"), token("warn"), token("ink-soft")],
    font: { color: token("ink"), family: token("font-text"), size: narrow ? 12 : 14 },
    hoverlabel: {
      bgcolor: token("card"),
      bordercolor: token("ink"),
      font: { color: token("ink"), family: token("font-text") },
    },
    /* Above: the cursors' flags, and the legend under them. */
    margin: narrow ? { l: 44, r: 8, t: 58, b: 40 } : { l: 64, r: 16, t: 62, b: 48 },
    dragmode: "pan",
    separators: SEPARATORS,
    legend: { orientation: "h", y: 1, yanchor: "bottom", x: 0 },
  };
  const full = merged(base, coloured(layout));
  for (const name of ["xaxis", "yaxis"]) {
    full[name] = full[name] || {};
  }
  for (const name of Object.keys(full).filter((k) => /^[xy]axis\d*$/.test(k))) {
    full[name] = merged(axis(narrow), full[name]);
  }
  return full;
}
