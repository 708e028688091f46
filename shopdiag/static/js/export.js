/* Saves pictures: the evidence drawing and the curve as it is shown, on white paper.

   Inside of [data-export="name"], a button with data-picture "evidence" paints the drawing at its
   data-picture-url; "svg" and "png" take the plot on the page. Nothing leaves the browser. */
import { filled, gettext } from "./words.js";

const PAPER = "#ffffff";
const SCALE = 2;
const WIDTH = 1400;
const HEIGHT = 700;
const FAILED = gettext("The picture could not be made; reload the page and try again.");
const NOT_YET = gettext("The curve is not drawn yet; wait until it is there.");

/* The look's colours on paper, by what they are on this screen. */
function paperColours() {
  const shown = getComputedStyle(document.documentElement);
  const paper = new Map();
  for (const sheet of document.styleSheets) {
    for (const rule of sheet.cssRules) {
      if (rule.selectorText !== ":root") {
        continue;
      }
      for (const name of rule.style) {
        if (name.startsWith("--")) {
          const here = shown.getPropertyValue(name).trim();
          paper.set(here, rule.style.getPropertyValue(name).trim());
        }
      }
    }
  }
  const card = shown.getPropertyValue("--card").trim();
  return paper.set(card, PAPER).set("rgba(0,0,0,0)", PAPER);
}

function recoloured(value, paper) {
  if (typeof value === "string") {
    return paper.get(value) || value;
  }
  if (ArrayBuffer.isView(value)) {
    return value;
  }
  if (Array.isArray(value)) {
    return typeof value[0] === "number" ? value : value.map((one) => recoloured(one, paper));
  }
  if (value && typeof value === "object") {
    return Object.fromEntries(
      Object.entries(value).map(([key, one]) => [key, recoloured(one, paper)]),
    );
  }
  return value;
}

function save(blob, name) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(blob);
  link.download = name;
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000);
}

/* A drawing is painted from an address of this page: the policy allows no other. */
function painted(svg) {
  const address = URL.createObjectURL(new Blob([svg], { type: "image/svg+xml" }));
  return new Promise((resolve, reject) => {
    const image = new Image();
    image.onload = function () {
      const canvas = document.createElement("canvas");
      canvas.width = image.naturalWidth * SCALE;
      canvas.height = image.naturalHeight * SCALE;
      const brush = canvas.getContext("2d");
      brush.fillStyle = PAPER;
      brush.fillRect(0, 0, canvas.width, canvas.height);
      brush.drawImage(image, 0, 0, canvas.width, canvas.height);
      canvas.toBlob((blob) => (blob ? resolve(blob) : reject(new Error(FAILED))), "image/png");
    };
    image.onerror = () => reject(new Error(FAILED));
    image.src = address;
  }).finally(() => URL.revokeObjectURL(address));
}

async function curve(kind) {
  const plot = document.querySelector("#curve-plot.js-plotly-plot");
  if (!plot) {
    throw new Error(NOT_YET);
  }
  const paper = paperColours();
  const layout = recoloured(plot.layout, paper);
  layout.paper_bgcolor = layout.plot_bgcolor = PAPER;
  delete layout.width;
  delete layout.height;
  const figure = { data: recoloured(plot.data, paper), layout };
  const size = { format: "svg", width: WIDTH, height: HEIGHT };
  const address = await Plotly.toImage(figure, size);
  const svg = decodeURIComponent(address.slice(address.indexOf(",") + 1));
  return kind === "svg" ? new Blob([svg], { type: "image/svg+xml" }) : painted(svg);
}

async function evidence(address) {
  const answer = await fetch(address, { credentials: "same-origin" });
  if (!answer.ok) {
    throw new Error(FAILED);
  }
  return painted(await answer.text());
}

document.addEventListener("click", async function (event) {
  const button = event.target.closest("[data-export] [data-picture]");
  if (!button) {
    return;
  }
  const card = button.closest("[data-export]");
  const state = card.querySelector("[data-export-state]");
  const kind = button.dataset.picture;
  button.disabled = true;
  try {
    const blob = kind === "evidence" ? await evidence(button.dataset.pictureUrl) : await curve(kind);
    const what = kind === "evidence" ? "evidence.png" : "curve." + kind;
    save(blob, card.dataset.export + "-" + what);
    state.textContent = filled(gettext("Saved: %(name)s."), { name: what });
  } catch (error) {
    state.textContent = [FAILED, NOT_YET].includes(error.message) ? error.message : FAILED;
  } finally {
    button.disabled = false;
  }
});

function unhide(root) {
  for (const button of root.querySelectorAll("[data-export] [data-picture][hidden]")) {
    button.hidden = false;
  }
}
document.addEventListener("DOMContentLoaded", () => unhide(document));
document.addEventListener("htmx:load", (event) => unhide(event.target.parentNode || document));
