/* Drafts in the browser's storage: what was typed into a form, by member, form and page.

   Two tabs may show the same form. Each writes a slot of its own (`KEY#ID`), and a draft names the
   page that holds it: a slot that another page took meanwhile is never written. A page that opens
   takes over a draft only where no page that is still there answers for it. */
import { forgetFiles, forgetFilesBeside } from "./draft_files.js";

export const PREFIX = "draft:";
const TAB = "draft-slots";
const MOST_REMEMBERED = 50;
const KEPT_MS = 7 * 24 * 3600 * 1000;
/* How long another tab has to say that a draft is its own. */
const ANSWER_MS = 150;

/* This page, until it is left; no tab that was copied from it has the same. */
const PAGE = String(Math.random()).slice(2);
const held = new Set();
const channel = "BroadcastChannel" in window ? new BroadcastChannel("drafts") : null;

export const member = document.body.dataset.member;
const savedTokens = new Set((document.body.dataset.savedForms || "").split(" ").filter(Boolean));

/* What was chosen of what is on file: another choice is another draft. */
export function choiceOf(form) {
  const names = (form.dataset.draftChoice || "").split(" ").filter(Boolean);
  return names.map((name) => [name, form.elements[name]?.value || ""]);
}

export function keyOf(form) {
  const chosen = choiceOf(form).map(([, value]) => `-${value}`).join("");
  return `${PREFIX}${member}:${new URL(form.action).pathname}:${form.dataset.draft}${chosen}`;
}

export function read(key) {
  try {
    return JSON.parse(localStorage.getItem(key));
  } catch {
    return null;
  }
}

export function write(key, draft) {
  try {
    localStorage.setItem(key, JSON.stringify(held.has(key) ? { ...draft, holder: PAGE } : draft));
  } catch {
    /* Without storage the form goes as any other. */
  }
}

export function forget(key) {
  if (read(key)?.files) {
    forgetFiles(key);
  }
  try {
    localStorage.removeItem(key);
  } catch {
    /* Nothing was kept. */
  }
}

export function keys(start) {
  try {
    return Object.keys(localStorage).filter((key) => key.startsWith(start));
  } catch {
    return [];
  }
}

export function forgetOld() {
  for (const key of keys(PREFIX)) {
    const draft = read(key);
    if (!draft || savedTokens.has(draft.token) || Date.now() - draft.at > KEPT_MS) {
      forget(key);
    }
  }
  forgetFilesBeside(keys(PREFIX));
}

/* --- whose a draft is --- */

function isOf(slot, key) {
  return slot === key || slot.startsWith(`${key}#`);
}

function isHeld(key) {
  return held.has(key) && [undefined, PAGE].includes(read(key)?.holder);
}

channel?.addEventListener("message", function ({ data }) {
  for (const key of data.asked || []) {
    if (isHeld(key)) {
      channel.postMessage({ isMine: key });
    }
  }
});

/* Those of `asked` that a page in another tab answers for. */
function heldElsewhere(asked) {
  const elsewhere = new Set();
  if (!channel || !asked.length) {
    return Promise.resolve(elsewhere);
  }
  return new Promise(function (resolve) {
    const note = ({ data }) => elsewhere.add(data.isMine);
    channel.addEventListener("message", note);
    channel.postMessage({ asked });
    setTimeout(function () {
      channel.removeEventListener("message", note);
      resolve(elsewhere);
    }, ANSWER_MS);
  });
}

/* What this tab held before its page was left; a restored window has it too. */
function tabsOwn() {
  try {
    return JSON.parse(sessionStorage.getItem(TAB)) || [];
  } catch {
    return [];
  }
}

function hold(slot) {
  held.add(slot);
  try {
    sessionStorage.setItem(TAB, JSON.stringify([...new Set([...tabsOwn(), slot])].slice(-MOST_REMEMBERED)));
  } catch {
    /* Then the newest draft is taken over. */
  }
}

/* Where this page keeps what is typed into a form so far; nothing where another page took it. */
export function ownSlot(key) {
  return [...held].find((slot) => isOf(slot, key) && isHeld(slot));
}

/* A new slot where this page has none, or another page took the one it had. */
export function slotOf(key) {
  const own = ownSlot(key);
  if (own) {
    return own;
  }
  const slot = `${key}#${PAGE}-${held.size}`;
  hold(slot);
  return slot;
}

/* Takes over a draft of a form that no page holds: that of its token, else this tab's, else the newest.
   A form that came back `refused` holds what was typed already and takes its own draft alone. */
export async function takeOver(key, token, isRefused) {
  const there = keys(key).filter((slot) => isOf(slot, key));
  const elsewhere = await heldElsewhere(there);
  if (ownSlot(key)) {
    return null; // typed into meanwhile
  }
  const before = tabsOwn();
  const rank = ({ slot, draft }) => (draft.token === token ? 2 : 0) + (before.includes(slot) ? 1 : 0);
  const [found] = there
    .filter((slot) => !elsewhere.has(slot))
    .map((slot) => ({ slot, draft: read(slot) }))
    .filter(({ draft }) => draft && (!isRefused || draft.token === token))
    .sort((a, b) => rank(b) - rank(a) || b.draft.at - a.draft.at);
  if (!found) {
    return null;
  }
  hold(found.slot);
  write(found.slot, found.draft);
  return found;
}
