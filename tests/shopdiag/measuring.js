/* Measures what a page offers to eyes, thumbs and keyboards; returns complaints as text.

   Sources: WCAG 2.2 (w3.org/TR/WCAG22). Contrast: 1.4.3 and 1.4.11 with its definitions of
   "relative luminance" and "contrast ratio"; targets: 2.5.5, 2.5.8; names: 1.1.1, 3.3.2, 4.1.2;
   headings: 1.3.1. */
() => {
  "use strict";
  const complaints = [];
  const short = (e) => e.outerHTML.replace(/\s+/g, " ").slice(0, 110);
  const shown = (e) => {
    const box = e.getBoundingClientRect();
    return e.checkVisibility({ checkOpacity: true, checkVisibilityCSS: true }) && box.width > 1 && box.height > 1;
  };

  /* --- colours --- */
  const rgba = (text) => {
    const numbers = text.match(/^rgba?\(([^)]+)\)$/);
    if (!numbers) {
      return null;
    }
    const [r, g, b, a] = numbers[1].split(/[\s,/]+/).map(Number);
    return [r, g, b, a === undefined ? 1 : a];
  };
  const over = (top, below) => [0, 1, 2].map((i) => top[i] * top[3] + below[i] * (1 - top[3]));
  const luminance = (colour) => {
    const [r, g, b] = colour.slice(0, 3).map((c) => {
      const s = c / 255;
      return s <= 0.04045 ? s / 12.92 : ((s + 0.055) / 1.055) ** 2.4;
    });
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const contrast = (one, other) => {
    const [light, dark] = [luminance(one), luminance(other)].sort((a, b) => b - a);
    return (light + 0.05) / (dark + 0.05);
  };
  const ground = (element) => {
    const layers = [];
    for (let e = element; e; e = e.parentElement) {
      const style = getComputedStyle(e);
      /* A gradient of one colour is that colour; hatches beside the text are left out. */
      const even = style.backgroundImage.match(/^linear-gradient\((rgba?\([^)]+\)), \1\)/);
      const colour = rgba(even ? even[1] : style.backgroundColor);
      if (colour && colour[3] > 0) {
        layers.push(colour);
        if (colour[3] === 1) {
          break;
        }
      }
    }
    return layers.reverse().reduce((below, top) => over(top, below), [255, 255, 255]);
  };
  const disabled = (e) => e.closest("[disabled], [aria-disabled=true]");

  const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const seen = new Set();
  while (texts.nextNode()) {
    const element = texts.currentNode.parentElement;
    if (!texts.currentNode.data.trim() || seen.has(element) || !shown(element) || disabled(element)) {
      continue;
    }
    seen.add(element);
    if (element.closest("svg, script, style, .unseen, .js-plotly-plot")) {
      continue;
    }
    const style = getComputedStyle(element);
    const colour = rgba(style.color);
    const below = ground(element);
    const size = parseFloat(style.fontSize);
    const large = size >= 24 || (size >= 18.66 && Number(style.fontWeight) >= 700);
    const ratio = contrast(over(colour, below), below);
    if (ratio < (large ? 3 : 4.5)) {
      complaints.push(`contrast ${ratio.toFixed(2)}: ${short(element)}`);
    }
  }
  for (const text of document.querySelectorAll("svg text")) {
    if (!shown(text) || text.closest(".js-plotly-plot")) {
      continue;
    }
    const fill = rgba(getComputedStyle(text).fill);
    const below = ground(text.closest("svg").parentElement);
    if (fill && contrast(over(fill, below), below) < 4.5) {
      complaints.push(`contrast of a drawing's word: ${short(text)}`);
    }
  }
  for (const field of document.querySelectorAll("input, select, textarea")) {
    if (!shown(field) || disabled(field) || ["hidden", "checkbox", "radio", "file"].includes(field.type)) {
      continue;
    }
    const border = rgba(getComputedStyle(field).borderBottomColor);
    const below = ground(field.parentElement);
    if (contrast(over(border, below), below) < 3) {
      complaints.push(`edge of a field cannot be seen: ${short(field)}`);
    }
  }

  /* --- names --- */
  const byId = (ids) => (ids || "").split(/\s+/).map((id) => document.getElementById(id)?.textContent || "").join(" ").trim();
  const name = (e) =>
    byId(e.getAttribute("aria-labelledby")) || e.getAttribute("aria-label")?.trim() ||
    [...(e.labels || [])].map((l) => l.textContent.trim()).join(" ") ||
    (/^(A|BUTTON|SUMMARY)$/.test(e.tagName) ? e.textContent.trim() || e.querySelector("img[alt]")?.alt : "") ||
    (["submit", "button"].includes(e.type) ? e.value : "") || "";
  const controls = document.querySelectorAll("a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex='0'], [role=button]");
  for (const control of controls) {
    if (shown(control) && !name(control)) {
      complaints.push(`no name: ${short(control)}`);
    }
    if (control.tabIndex > 0) {
      complaints.push(`jumps the queue of the Tab key: ${short(control)}`);
    }
  }
  for (const group of document.querySelectorAll("fieldset")) {
    if (!group.querySelector("legend")?.textContent.trim()) {
      complaints.push(`a group without a legend: ${short(group)}`);
    }
  }
  for (const picture of document.querySelectorAll("img, svg[role=img]")) {
    if (!picture.hasAttribute("alt") && !picture.getAttribute("aria-label") && !picture.querySelector("title")) {
      complaints.push(`a picture without words: ${short(picture)}`);
    }
  }
  for (const described of document.querySelectorAll("[aria-describedby], [aria-labelledby], label[for]")) {
    const ids = ["aria-describedby", "aria-labelledby", "for"].flatMap((a) => (described.getAttribute(a) || "").split(/\s+/));
    for (const id of ids.filter(Boolean)) {
      if (!document.getElementById(id)) {
        complaints.push(`points at “${id}”, which is not there: ${short(described)}`);
      }
    }
  }
  const ids = [...document.querySelectorAll("[id]")].map((e) => e.id);
  for (const twice of new Set(ids.filter((id, i) => ids.indexOf(id) !== i))) {
    complaints.push(`two elements are called “${twice}”`);
  }

  /* --- structure --- */
  if (!document.documentElement.lang || !document.title.trim()) {
    complaints.push("the page has no language or no title");
  }
  for (const landmark of ["main", "header"]) {
    if (document.querySelectorAll(`body > ${landmark}`).length > 1 || (landmark === "main" && !document.querySelector("main"))) {
      complaints.push(`landmark ${landmark}`);
    }
  }
  const headings = [...document.querySelectorAll("h1, h2, h3, h4, h5, h6")].filter(shown);
  const levels = headings.map((h) => Number(h.tagName[1]));
  if (levels.filter((l) => l === 1).length !== 1 || levels[0] !== 1) {
    complaints.push(`headings start ${levels.slice(0, 4)} with ${levels.filter((l) => l === 1).length} of the first level`);
  }
  levels.forEach((level, i) => {
    if (i && level > levels[i - 1] + 1) {
      complaints.push(`a heading skips a level: ${short(headings[i])}`);
    }
  });
  for (const table of document.querySelectorAll("table")) {
    if (shown(table) && (!table.caption?.textContent.trim() || !table.querySelector("th[scope]"))) {
      complaints.push(`a table without caption or heads: ${short(table)}`);
    }
  }

  /* --- targets --- */
  const inSentence = (e) => {
    /* 2.5.5 leaves out a link within a sentence or a block of text: words beside links and badges. */
    const block = e.closest("p, li, td, th, dd, dt, caption, figcaption")?.cloneNode(true);
    if (e.tagName !== "A" || getComputedStyle(e).display !== "inline" || !block) {
      return false;
    }
    block.querySelectorAll("a, .badge, .unseen").forEach((other) => other.remove());
    return block.textContent.trim().split(/\s+/).length >= 3;
  };
  for (const control of controls) {
    const hit = ["checkbox", "radio"].includes(control.type) ? control.closest("label") || control : control;
    if (!shown(hit) || disabled(control) || control.closest(".js-plotly-plot, .skip")) {
      continue;
    }
    /* 2.5.8: 24 px for a link in a sentence, and for a box within its label. */
    const least = inSentence(control) ? 23.5 : 43.5;
    const box = hit.getBoundingClientRect(), own = control.getBoundingClientRect();
    if (box.height < least || box.width < least || (shown(control) && own.height < 23.5)) {
      complaints.push(`target ${Math.round(box.width)} × ${Math.round(box.height)}: ${short(control)}`);
    }
  }
  if (document.documentElement.scrollWidth > innerWidth) {
    complaints.push(`wider than the screen: ${document.documentElement.scrollWidth} of ${innerWidth}`);
  }
  return complaints;
}
