/* The command box: Ctrl+K or / opens it, ? tells the keys. It lists what the page's own links and
   buttons do, so that it offers nothing that this person may not; whatever else is typed is looked
   for by Find. A combobox with a list as the WAI-ARIA Authoring Practices describe it; the dialog
   is the browser's own. Keys of one character can be switched off (WCAG 2.2, 2.1.4). */

import { filled, gettext } from "./words.js";
import { openAround } from "./folds.js";

const OFF = "shortcuts-off";
const MOST = 12;
const TYPING = "input, textarea, select, [contenteditable], dialog *";
const find = document.querySelector("[data-commands]")?.dataset.commands;

function areOff() {
  try {
    return localStorage.getItem(OFF) === "yes";
  } catch {
    return false;
  }
}

function switchOff(off) {
  try {
    localStorage.setItem(OFF, off ? "yes" : "no");
  } catch {
    /* Without a store it counts until the page is left. */
  }
}

function made(tag, attributes, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    element.setAttribute(name, value);
  }
  element.append(...children);
  return element;
}

function nameOf(element) {
  const copy = element.cloneNode(true);
  for (const unsaid of copy.querySelectorAll("[aria-hidden=true], h3")) {
    unsaid.remove();
  }
  return (element.getAttribute("aria-label") ?? copy.textContent).replace(/\s+/g, " ").trim();
}

/* Links of the letterhead, links that look like buttons, and parts of the page; each name once. */
function offered() {
  const commands = new Map();
  const sources = "main a.btn[href], .main-nav a, .menu-panel a, main details[id] > summary";
  for (const element of document.querySelectorAll(sources)) {
    const name = nameOf(element);
    if (name && name.length < 70 && !commands.has(name)) {
      commands.set(name, () => {
        if (element.matches("summary")) {
          openAround(element);
          element.scrollIntoView();
          element.focus();
        } else {
          openAround(element);
          element.click();
        }
      });
    }
  }
  return commands;
}

const list = made("ul", { id: "command-list", role: "listbox", "aria-label": gettext("Commands") });
const input = made("input", {
  id: "command-input",
  type: "text",
  role: "combobox",
  autocomplete: "off",
  "aria-autocomplete": "list",
  "aria-expanded": "true",
  "aria-controls": "command-list",
});
const off = made("input", { id: "command-off", type: "checkbox" });
const keys = made("dl", { class: "command-keys" });
for (const [key, words] of [
  ["Ctrl K", gettext("open the command box")],
  ["/", gettext("open the command box")],
  ["?", gettext("show these keys")],
  ["↑ ↓", gettext("choose")],
  ["Enter", gettext("do it")],
  ["Esc", gettext("close")],
]) {
  keys.append(made("dt", {}, made("kbd", {}, key)), made("dd", {}, words));
}
const help = made(
  "details",
  { class: "command-help" },
  made("summary", {}, gettext("Keys")),
  keys,
  made("label", { class: "field-choice", for: "command-off" }, off,
    made("span", {}, gettext("Switch keys of one character off"))),
);
const close = made("button", { type: "button", class: "btn btn-quiet" }, gettext("Close"));
const dialog = made(
  "dialog",
  { class: "commands", "aria-label": gettext("Command box") },
  made("label", { for: "command-input", class: "field-label" },
    gettext("Command, or job number, plate, VIN, name, code")),
  input,
  list,
  help,
  close,
);

let actions = [];
let at = 0;

function mark() {
  [...list.children].forEach((option, index) => {
    option.setAttribute("aria-selected", String(index === at));
    if (index === at) {
      option.scrollIntoView({ block: "nearest" });
    }
  });
  if (list.children[at]) {
    input.setAttribute("aria-activedescendant", list.children[at].id);
  } else {
    input.removeAttribute("aria-activedescendant");
  }
}

function show() {
  const typed = input.value.trim();
  const wanted = typed.toLowerCase();
  const fitting = [...offered()].filter(([name]) => name.toLowerCase().includes(wanted));
  const rows = fitting.slice(0, MOST);
  if (typed && find) {
    const look = [
      filled(gettext("Find “%(typed)s”"), { typed }),
      () => location.assign(`${find}?${new URLSearchParams({ q: typed, go: "1" })}`),
    ];
    /* What has a digit is a number, plate or code sooner than a command. */
    if (/\d/.test(typed)) {
      rows.unshift(look);
    } else {
      rows.push(look);
    }
  }
  actions = rows.map(([, action]) => action);
  at = 0;
  list.replaceChildren(
    ...rows.map(([name], index) => {
      const option = made("li", { id: `command-${index}`, role: "option" }, name);
      option.addEventListener("click", () => run(index));
      return option;
    }),
  );
  mark();
}

function run(index) {
  const action = actions[index];
  if (action) {
    dialog.close();
    action();
  }
}

function open(withKeys) {
  if (!dialog.isConnected) {
    document.body.append(dialog);
  }
  off.checked = areOff();
  help.open = withKeys;
  input.value = "";
  show();
  if (!dialog.open) {
    dialog.showModal();
  }
  input.focus();
}

input.addEventListener("input", show);
input.addEventListener("keydown", (event) => {
  const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
  if (step && actions.length) {
    at = (at + step + actions.length) % actions.length;
    mark();
    event.preventDefault();
  } else if (event.key === "Enter" && !event.isComposing) {
    event.preventDefault();
    run(at);
  }
});
off.addEventListener("change", () => switchOff(off.checked));
close.addEventListener("click", () => dialog.close());

document.addEventListener("keydown", (event) => {
  if ((event.ctrlKey || event.metaKey) && !event.altKey && event.key.toLowerCase() === "k") {
    event.preventDefault();
    open(false);
    return;
  }
  const isPlain = !event.ctrlKey && !event.metaKey && !event.altKey && !event.isComposing;
  if (!isPlain || areOff() || event.target.closest?.(TYPING)) {
    return;
  }
  if (event.key === "/" || event.key === "?") {
    event.preventDefault();
    open(event.key === "?");
  }
});

for (const button of document.querySelectorAll("[data-commands]")) {
  button.hidden = false;
  button.addEventListener("click", () => {
    const menu = button.closest("details");
    if (menu) {
      menu.open = false;
    }
    open(true);
  });
}
