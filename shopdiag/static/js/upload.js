/* Forms with data-upload: drag and drop; each file goes by itself (upload_sending.js) with progress,
   speed and cancel, and goes on after a lost connection.

   The server answers each file with JSON {"next": address}, and "already" where it was here
   before, or {"errors": [sentence, …]}.
   Without this script the same form posts all files at once. */
import { openAround } from "./folds.js";
import { sendUpload } from "./upload_sending.js";
import { remembered, storage } from "./upload_tools.js";
import { filled, gettext, written } from "./words.js";

const SHOWN_EVERY_MS = 250;
let underWay = 0;

function megabytes(bytes) {
  return written((bytes / 1e6).toFixed(bytes < 1e7 ? 1 : 0) + " MB");
}

function duration(seconds) {
  if (seconds < 60) {
    return Math.max(1, Math.round(seconds)) + " s";
  }
  const minutes = Math.round(seconds / 60);
  return minutes < 60 ? minutes + " min" : Math.floor(minutes / 60) + " h " + (minutes % 60) + " min";
}

function button(text) {
  const made = document.createElement("button");
  made.type = "button";
  made.className = "btn btn-quiet";
  made.textContent = text;
  return made;
}

function line(list, file) {
  const item = document.createElement("li");
  item.className = "upload";
  const name = document.createElement("span");
  name.className = "upload-name";
  name.textContent = file.name;
  const cancel = button(gettext("Cancel"));
  cancel.setAttribute("aria-label", filled(gettext("Cancel %(name)s"), { name: file.name }));
  const again = button(gettext("Try now"));
  again.hidden = true;
  const bar = document.createElement("progress");
  bar.max = 1;
  bar.value = 0;
  bar.setAttribute("aria-label", file.name);
  const state = document.createElement("span");
  state.className = "upload-state";
  state.textContent = filled(gettext("waiting, %(size)s"), { size: megabytes(file.size) });
  item.append(name, cancel, bar, state, again);
  list.append(item);
  return { item, cancel, again, bar, state };
}

/* Progress changes all the time and is not read out; what somebody must know is. */
function say(shown, text, { aloud = true } = {}) {
  shown.state.setAttribute("aria-live", aloud ? "polite" : "off");
  shown.state.textContent = text;
}

/* The sentence of a file that the server would refuse for its size, before it is sent. */
function tooLarge(form, file) {
  const limit = Number(form.querySelector("[data-limit-mb]")?.dataset.limitMb || 0) * 1e6;
  if (!limit || file.size <= limit) {
    return null;
  }
  const refused = gettext(
    "“%(name)s” is %(size)s and the limit is %(limit)s; save a shorter stretch around the " +
      "cranking, or fewer channels.",
  );
  const [size, most] = [file.size, limit].map(megabytes);
  return filled(refused, { name: file.name, size, limit: most });
}

/* The form without its files; the cookie's token counts, which a new sign-in renews. */
function fieldsOf(form, input, token) {
  const body = new FormData();
  for (const [name, value] of new FormData(form)) {
    if (name !== input.name && name !== "csrfmiddlewaretoken") {
      body.append(name, value);
    }
  }
  body.append("arrived", token);
  return body;
}

function csrfOf(form) {
  const kept = document.cookie.match(/(?:^|; )csrftoken=([^;]+)/);
  return kept ? kept[1] : form.querySelector("[name=csrfmiddlewaretoken]")?.value || "";
}

function listener(file, shown) {
  let shownAt = 0;
  return function (told) {
    shown.again.hidden = told.kind !== "later";
    shown.item.classList.toggle("upload-later", told.kind === "later");
    shown.cancel.hidden = told.kind === "checking";
    if (told.kind === "later") {
      const [here, whole] = [told.received || 0, file.size].map(megabytes);
      const lost = told.received
        ? gettext("Connection lost at %(here)s of %(whole)s; goes on by itself within %(wait)s s.")
        : gettext("Connection lost; goes on by itself within %(wait)s s.");
      const said = gettext("%(sentence)s It goes on by itself within %(wait)s s.");
      const { sentence, wait } = told;
      say(shown, filled(sentence ? said : lost, { sentence, wait, here, whole }));
    } else if (told.kind === "placing") {
      say(shown, gettext("being read …"), { aloud: false });
    } else if (told.kind === "checking") {
      shown.bar.value = 1;
      say(shown, gettext("sent, being checked …"));
    } else {
      shown.bar.value = told.sent / file.size;
      const now = performance.now();
      if (now - shownAt >= SHOWN_EVERY_MS) {
        shownAt = now;
        const percent = Math.floor((100 * told.sent) / file.size);
        const [sent, size, speed] = [told.sent, file.size, told.perSecond || 0].map(megabytes);
        const text = told.perSecond
          ? gettext("%(sent)s of %(size)s (%(percent)s %), %(speed)s a second, %(left)s left")
          : gettext("%(sent)s of %(size)s (%(percent)s %)");
        const left = duration(told.left || 0);
        say(shown, filled(text, { sent, size, percent, speed, left }), { aloud: false });
      }
    }
  };
}

async function send(form, input, file, shown) {
  const zone = form.querySelector("[data-drop]");
  const refused = tooLarge(form, file);
  let outcome;
  if (shown.cancelled) {
    outcome = { errors: [gettext("Cancelled.")] };
  } else if (refused) {
    outcome = { errors: [refused] };
  } else if (!file.size) {
    const sentence = gettext("“%(name)s” is empty; save the recording again and choose that file.");
    outcome = { errors: [filled(sentence, { name: file.name })] };
  } else {
    const sending = sendUpload(file, {
      endpoint: zone.dataset.uploadTo,
      partBytes: Number(zone.dataset.partBytes),
      where: whereOf(input),
      hashing: zone.dataset.hashing,
      csrf: () => csrfOf(form),
      finish: (token) => ({ address: form.action, body: fieldsOf(form, input, token) }),
      tell: listener(file, shown),
    });
    shown.stop = sending.cancel;
    shown.again.addEventListener("click", sending.again);
    outcome = await sending.outcome;
  }
  shown.cancel.remove();
  shown.again.remove();
  shown.item.classList.remove("upload-later");
  if (outcome.errors) {
    shown.item.classList.add("upload-failed");
    say(shown, outcome.errors.join(" "));
  } else {
    shown.bar.value = 1;
    say(shown, filled(gettext("here, %(size)s"), { size: megabytes(file.size) }));
  }
  return outcome;
}

function linesOf(list, files) {
  return files.map(function (file) {
    const shown = line(list, file);
    shown.cancel.addEventListener("click", function () {
      shown.cancelled = true;
      say(shown, gettext("being cancelled …"));
      if (shown.stop) {
        shown.stop();
      }
    });
    return shown;
  });
}

/* What was not taken stays chosen, so that it can be sent again another way. */
function keepChosen(input, files) {
  const left = new DataTransfer();
  files.forEach((file) => left.items.add(file));
  input.files = left.files;
}

/* The first that is new; one that was on the job before only where none is. */
function firstOf(arrived) {
  return (arrived.find((outcome) => !outcome.already) || arrived[0]).next;
}

function offerNext(list, arrived) {
  const on = document.createElement("li");
  const link = document.createElement("a");
  link.className = "btn btn-plain";
  link.href = firstOf(arrived);
  link.textContent =
    arrived.length === 1
      ? gettext("Go on with the file that is here")
      : gettext("Go on with the files that are here");
  on.append(link);
  list.append(on);
}

/* Which form of which page: two on a job's page send for two purposes. */
function whereOf(input) {
  return location.pathname + "#" + input.id;
}

/* What was begun in this form and not finished: how to go on with it, or give it up. */
async function offerUnfinished(form, input) {
  const list = form.querySelector("[data-uploads]");
  const version = { "Tus-Resumable": "1.0.0" };
  for (const kept of await remembered(whereOf(input))) {
    const address = kept.uploadUrl;
    const forget = () => storage().removeUpload(kept.urlStorageKey);
    const answer = await fetch(address, { method: "HEAD", headers: version }).catch(() => null);
    if (answer && answer.status === 404) {
      forget();
    }
    if (!answer || !answer.ok) {
      continue;
    }
    const received = Number(answer.headers.get("Upload-Offset"));
    if (form.dataset.sending) {
      return;
    }
    const shown = line(list, { name: kept.metadata.filename, size: kept.size });
    /* Behind a closed fold nobody would see it. */
    openAround(form);
    shown.bar.value = received / kept.size;
    shown.again.remove();
    shown.cancel.textContent = gettext("Give it up");
    shown.cancel.setAttribute("aria-label", filled(gettext("Give up %(name)s"), { name: kept.metadata.filename }));
    const [here, whole] = [received, kept.size].map(megabytes);
    const told = gettext(
      "%(here)s of %(whole)s are here; choose the same file again, and it goes on from there.",
    );
    say(shown, filled(told, { here, whole }));
    shown.cancel.addEventListener("click", async function () {
      const headers = { ...version, "X-CSRFToken": csrfOf(form) };
      const gone = await fetch(address, { method: "DELETE", headers }).catch(() => null);
      if (gone && [204, 404].includes(gone.status)) {
        forget();
        shown.item.remove();
      } else {
        say(shown, gettext("That did not reach the server; try again."));
      }
    });
  }
}

function askBeforeLeaving(event) {
  event.preventDefault();
  /* What older browsers look at. */
  event.returnValue = "";
}

/* The first that was not taken is where reading goes on. */
function lookAt(shown) {
  if (shown) {
    openAround(shown.item);
    shown.item.tabIndex = -1;
    shown.item.focus();
  }
}

async function sendAll(form, input, files) {
  const list = form.querySelector("[data-uploads]");
  const buttons = form.querySelectorAll('button[type="submit"]');
  form.dataset.sending = "yes";
  buttons.forEach((one) => (one.disabled = true));
  list.replaceChildren();
  const lines = linesOf(list, files);
  const outcomes = [];
  underWay += 1;
  window.addEventListener("beforeunload", askBeforeLeaving);
  /* One after another: a workshop's line is narrow, and the order stays. */
  try {
    for (let i = 0; i < files.length; i += 1) {
      outcomes.push(await send(form, input, files[i], lines[i]));
    }
  } finally {
    underWay -= 1;
    if (!underWay) {
      window.removeEventListener("beforeunload", askBeforeLeaving);
    }
    delete form.dataset.sending;
    buttons.forEach((one) => (one.disabled = false));
  }
  const arrived = outcomes.filter((outcome) => outcome.next);
  if (arrived.length === outcomes.length && !underWay) {
    location.assign(firstOf(arrived));
    return;
  }
  keepChosen(input, files.filter((_, i) => !outcomes[i].next));
  lookAt(lines[outcomes.findIndex((outcome) => outcome.errors)]);
  if (arrived.length) {
    offerNext(list, arrived);
  }
}

function start(form) {
  const zone = form.querySelector("[data-drop]");
  const input = zone && zone.querySelector('input[type="file"]');
  if (!input || form.dataset.uploadReady) {
    return;
  }
  form.dataset.uploadReady = "yes";
  zone.querySelector("[data-drop-hint]").hidden = false;
  offerUnfinished(form, input);
  for (const name of ["dragenter", "dragover"]) {
    zone.addEventListener(name, function (event) {
      event.preventDefault();
      zone.classList.add("drop-over");
    });
  }
  zone.addEventListener("dragleave", () => zone.classList.remove("drop-over"));
  zone.addEventListener("drop", function (event) {
    event.preventDefault();
    zone.classList.remove("drop-over");
    if (event.dataTransfer.files.length) {
      input.files = event.dataTransfer.files;
      input.dispatchEvent(new Event("change", { bubbles: true }));
      form.requestSubmit();
    }
  });
  form.addEventListener("submit", function (event) {
    const files = Array.from(input.files);
    if (files.length) {
      event.preventDefault();
      if (!form.dataset.sending) {
        sendAll(form, input, files);
      }
    }
  });
}

function startAll() {
  document.querySelectorAll("form[data-upload]").forEach(start);
}
document.addEventListener("DOMContentLoaded", startAll);
document.addEventListener("htmx:afterSettle", startAll);
