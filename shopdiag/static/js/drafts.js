/* What is typed into a form with `data-draft` is kept in the browser until it is saved: it outlives
   a lost connection, a session that ended, a reload and an empty battery.

   A draft carries the token of the form it was typed into, so that whatever is sent twice is saved
   once; what else the form says of its origin (`version`, `seen`) goes with it, so that the server
   tells where somebody else was quicker. Drafts belong to a member and end with signing out. */
import { filesOf, keepFiles, putFilesBack, readFiles } from "./draft_files.js";
import { choiceOf, forget, forgetOld, keyOf, keys, member, ownSlot, PREFIX, read, slotOf, takeOver, write } from "./draft_store.js";
import { fill, isTyped, valuesOf } from "./draft_values.js";
import { takeEarlierToken } from "./once.js";
import { filled, gettext } from "./words.js";

const AGAIN_MS = 2_000;
const MOST_AGAIN_MS = 30_000;
/* What was meant to be saved longer ago is shown to a person first: it would be recorded as of now. */
const BY_ITSELF_MS = 12 * 3600 * 1000;

const sending = new Set();

function pageOf(form) {
  const choice = choiceOf(form);
  return location.pathname + (choice.length ? `?${new URLSearchParams(choice)}` : location.search);
}

function keep(form, more = {}) {
  const values = valuesOf(form);
  /* A page that came back refused has an address that only takes forms. */
  const slot = slotOf(keyOf(form));
  const before = form.dataset.refused === undefined ? null : read(slot);
  write(slot, {
    at: Date.now(),
    action: form.action,
    page: before?.page || pageOf(form),
    title: document.title,
    token: values.form_token?.[0] || "",
    values,
    files: filesOf(form).length,
    ...more,
  });
}

/* --- what a person is told --- */

function noteOf(form, isBesideButton) {
  let note = form.querySelector(".draft-note");
  if (!note) {
    note = document.createElement("div");
    note.className = "draft-note";
    note.setAttribute("role", "status");
  }
  const button = form.querySelector('button:not([type="button"])');
  if (isBesideButton && button) {
    (button.closest(".form-actions, form > *") || button).after(note);
  } else {
    form.prepend(note);
  }
  return note;
}

/* What came of pressing the button stands beside it; what was typed before, at the form's head. */
function tell(form, words, key, isBesideButton = false) {
  const note = noteOf(form, isBesideButton);
  const said = document.createElement("p");
  said.textContent = words;
  const discard = document.createElement("button");
  discard.type = "button";
  discard.className = "btn btn-quiet";
  discard.textContent = gettext("Discard");
  discard.addEventListener("click", function () {
    forget(key);
    location.reload();
  });
  note.replaceChildren(said, discard);
  for (let around = form.closest("details"); around; around = around.parentElement.closest("details")) {
    around.open = true;
  }
  if (isBesideButton) {
    note.scrollIntoView({ block: "nearest" });
  }
}

function clock(at) {
  const isToday = new Date(at).toDateString() === new Date().toDateString();
  const day = isToday ? {} : { day: "numeric", month: "short" };
  const time = { hour: "2-digit", minute: "2-digit", hourCycle: "h23" };
  return new Date(at).toLocaleString(document.documentElement.lang, { ...day, ...time });
}

function goesByItself(draft) {
  return draft.waiting && Date.now() - draft.at < BY_ITSELF_MS;
}

async function tellOffline(form, key) {
  let words = gettext("No connection. Kept on this device, and sent as soon as it is back.");
  if (filesOf(form).length && !(await keepFiles(key, filesOf(form)))) {
    words = gettext("No connection. This browser cannot keep the file: leave the page open until it is sent.");
  }
  tell(form, words, key, true);
}

/* --- sending --- */

function busy(form, isBusy) {
  for (const button of form.querySelectorAll('button[type="submit"]')) {
    button.disabled = isBusy;
    button.setAttribute("aria-busy", String(isBusy));
  }
}

/* Sends it; "offline" where nobody answered, "refused" where a person has to look, else where to go on. */
async function post(address, body) {
  let answer;
  try {
    answer = await fetch(address, { method: "POST", body, headers: { "X-Sent-By-Script": "1", Accept: "text/html" } });
  } catch {
    return { state: "offline" };
  }
  if (answer.ok && answer.headers.get("Content-Type")?.includes("json")) {
    return { state: "saved", to: (await answer.json()).to };
  }
  return { state: answer.status >= 500 ? "offline" : "refused" };
}

/* The browser sends it itself, so that the answer is the page a person sees. */
function sendPlainly(form, submitter) {
  if (submitter?.name) {
    const pressed = document.createElement("input");
    pressed.type = "hidden";
    pressed.name = submitter.name;
    pressed.value = submitter.value;
    form.append(pressed);
  }
  HTMLFormElement.prototype.submit.call(form);
}

function goTo(address) {
  const there = new URL(address, location.href);
  const isHere = there.pathname + there.search === location.pathname + location.search;
  location.assign(there);
  if (isHere && there.hash) {
    location.reload();
  }
}

async function send(form, submitter, againMs = AGAIN_MS) {
  const key = slotOf(keyOf(form));
  if (sending.has(key)) {
    return;
  }
  sending.add(key);
  for (const control of form.elements) {
    delete control.dataset.proposed; // sent is agreed to
  }
  keep(form, { waiting: true });
  const body = new FormData(form, submitter);
  busy(form, true);
  const { state, to } = await post(form.action, body);
  sending.delete(key);
  if (state === "saved") {
    forget(key);
    goTo(to);
  } else if (state === "refused") {
    keep(form);
    sendPlainly(form, submitter);
  } else {
    busy(form, false);
    tellOffline(form, key);
    setTimeout(() => sendAgain(form, submitter, Math.min(2 * againMs, MOST_AGAIN_MS)), againMs);
  }
}

function sendAgain(form, submitter, againMs) {
  if (read(ownSlot(keyOf(form)))?.waiting) {
    send(form, submitter, againMs);
  }
}

/* --- the forms of this page --- */

async function resume(form, key, draft) {
  const isLost = draft.files > 0 && !(await putFilesBack(form, key));
  if (form.dataset.refused !== undefined) {
    keep(form);
  } else if (draft.files || isTyped(form, draft.values)) {
    fill(form, draft.values);
    form.dispatchEvent(new Event("input", { bubbles: true }));
    if (isLost) {
      tell(form, gettext("Not saved yet, and the file is no longer on this device: choose it again."), key);
    } else if (goesByItself(draft)) {
      tellOffline(form, key);
      send(form, null);
    } else {
      tell(form, filled(gettext("Not saved yet: typed on this device at %(at)s."), { at: clock(draft.at) }), key);
    }
  } else {
    forget(key);
  }
}

function begin(form) {
  const token = form.elements.form_token?.value;
  const begun = takeOver(keyOf(form), token, form.dataset.refused !== undefined).then(function (found) {
    if (found) {
      resume(form, found.slot, found.draft);
    }
  });
  form.addEventListener("input", function (event) {
    if (event.target === form) {
      return;
    }
    const key = slotOf(keyOf(form));
    if (read(key)?.waiting && !sending.has(key)) {
      tell(form, gettext("Changed meanwhile and not sent: save it again."), key, true);
    }
    keep(form);
    if (event.target.type === "file") {
      keepFiles(key, filesOf(form));
    }
  });
  form.addEventListener("submit", function (event) {
    if (event.defaultPrevented) {
      return;
    }
    event.preventDefault();
    takeEarlierToken(form, event.submitter);
    send(form, event.submitter);
  });
  return begun;
}

/* --- what waits for other pages --- */

function tellWaiting(drafts) {
  const note = document.createElement("div");
  note.className = "message message-warning draft-waiting";
  note.setAttribute("role", "status");
  const words = document.createElement("p");
  words.textContent = gettext("Typed on this device and not saved yet:");
  note.append(words);
  for (const draft of drafts) {
    const link = document.createElement("a");
    link.className = "lone-link";
    link.href = draft.page;
    link.textContent = draft.title;
    note.append(link);
  }
  document.querySelector("main")?.prepend(note);
}

async function sendWaiting(forms) {
  const here = new Set(forms.map((form) => ownSlot(keyOf(form))));
  const left = [];
  for (const key of keys(`${PREFIX}${member}:`)) {
    const draft = read(key);
    if (here.has(key)) {
      continue;
    }
    if (draft.refused || (draft.waiting && !goesByItself(draft))) {
      left.push(draft);
    } else if (draft.waiting) {
      const body = new FormData();
      body.append("csrfmiddlewaretoken", JSON.parse(document.body.getAttribute("hx-headers"))["X-CSRFToken"]);
      for (const [name, values] of Object.entries(draft.values)) {
        values.forEach((value) => body.append(name, value));
      }
      const files = draft.files ? await readFiles(key) : [];
      if (draft.files && !files.length) {
        left.push(draft);
        continue;
      }
      files.forEach(({ name, file }) => body.append(name, file));
      const { state } = await post(draft.action, body);
      if (state === "saved") {
        forget(key);
        continue;
      }
      if (state === "refused") {
        write(key, { ...draft, waiting: false, refused: true });
      }
      left.push(draft);
    }
  }
  if (left.length) {
    tellWaiting(left);
  }
}

for (const form of document.querySelectorAll("form[data-forgets-drafts]")) {
  form.addEventListener("submit", () => keys(PREFIX).forEach(forget));
}

if (member) {
  document.addEventListener("DOMContentLoaded", function () {
    forgetOld();
    const forms = [...document.querySelectorAll("form[data-draft]")];
    Promise.all(forms.map(begin)).then(() => sendWaiting(forms));
    window.addEventListener("online", () => forms.forEach((form) => sendAgain(form, null)));
  });
}
