/* Forms with data-upload: drag and drop, one request per file with progress, speed and cancel.

   The server answers each file with JSON {"next": address} or {"errors": [sentence, …]}.
   Without this script the same form posts all files at once. */
(function () {
  "use strict";
  const LOST = "The connection broke; the file is not here yet. Send it again.";
  const WENT_WRONG = "The server could not take this file; try again, or tell the owner.";

  function megabytes(bytes) {
    return (bytes / 1e6).toFixed(bytes < 1e7 ? 1 : 0) + " MB";
  }

  function line(list, file) {
    const item = document.createElement("li");
    item.className = "upload";
    const name = document.createElement("span");
    name.className = "upload-name";
    name.textContent = file.name;
    const cancel = document.createElement("button");
    cancel.type = "button";
    cancel.className = "btn btn-quiet";
    cancel.textContent = "Cancel";
    const bar = document.createElement("progress");
    bar.max = 1;
    bar.value = 0;
    bar.setAttribute("aria-label", file.name);
    const state = document.createElement("span");
    state.className = "upload-state";
    state.textContent = "waiting, " + megabytes(file.size);
    item.append(name, cancel, bar, state);
    list.append(item);
    return { item, cancel, bar, state };
  }

  /* The sentence of a file that the server would refuse for its size, before it is sent. */
  function tooLarge(form, file) {
    const limit = Number(form.querySelector("[data-limit-mb]")?.dataset.limitMb || 0) * 1e6;
    if (!limit || file.size <= limit) {
      return null;
    }
    return (
      "“" + file.name + "” is " + megabytes(file.size) + " and the limit is " +
      megabytes(limit) + "; save a shorter stretch around the cranking, or fewer channels."
    );
  }

  function fieldsOf(form, input, file) {
    const body = new FormData();
    for (const [name, value] of new FormData(form)) {
      if (name !== input.name) {
        body.append(name, value);
      }
    }
    body.append(input.name, file, file.name);
    return body;
  }

  function sentences(request) {
    try {
      const answer = JSON.parse(request.responseText);
      if (answer.next || Array.isArray(answer.errors)) {
        return answer;
      }
    } catch {
      /* Not JSON: an error page. */
    }
    return { errors: [request.status === 413 ? "This file is too large." : WENT_WRONG] };
  }

  function send(form, input, file, shown) {
    return new Promise(function (resolve) {
      const request = new XMLHttpRequest();
      const began = performance.now();
      function done(outcome) {
        shown.cancel.remove();
        if (outcome.errors) {
          shown.item.classList.add("upload-failed");
          shown.state.textContent = outcome.errors.join(" ");
        } else {
          shown.bar.value = 1;
          shown.state.textContent = "here, " + megabytes(file.size);
        }
        resolve(outcome);
      }
      const refused = tooLarge(form, file);
      if (refused) {
        done({ errors: [refused] });
        return;
      }
      shown.cancel.addEventListener("click", () => request.abort());
      request.upload.addEventListener("progress", function (event) {
        const seconds = (performance.now() - began) / 1000;
        shown.bar.value = event.total ? event.loaded / event.total : 0;
        shown.state.textContent =
          event.loaded < event.total
            ? megabytes(event.loaded) + " of " + megabytes(event.total) +
              ", " + megabytes(event.loaded / Math.max(seconds, 0.05)) + " a second"
            : "sent, being checked …";
      });
      request.addEventListener("load", () => done(sentences(request)));
      request.addEventListener("error", () => done({ errors: [LOST] }));
      request.addEventListener("timeout", () => done({ errors: [LOST] }));
      request.addEventListener("abort", () => done({ errors: ["Cancelled."], cancelled: true }));
      request.open("POST", form.action);
      request.setRequestHeader("Accept", "application/json");
      request.setRequestHeader("X-Requested-With", "XMLHttpRequest");
      request.send(fieldsOf(form, input, file));
    });
  }

  async function sendAll(form, input, files) {
    const list = form.querySelector("[data-uploads]");
    const buttons = form.querySelectorAll('button[type="submit"]');
    buttons.forEach((button) => (button.disabled = true));
    list.replaceChildren();
    const lines = files.map((file) => line(list, file));
    const outcomes = [];
    /* One after another: a workshop's line is narrow, and the order stays. */
    for (let i = 0; i < files.length; i += 1) {
      outcomes.push(await send(form, input, files[i], lines[i]));
    }
    const arrived = outcomes.filter((outcome) => outcome.next);
    if (arrived.length === outcomes.length) {
      location.assign(arrived[arrived.length - 1].next);
      return;
    }
    buttons.forEach((button) => (button.disabled = false));
    /* What was not taken stays chosen, so that it can be sent again another way. */
    const left = new DataTransfer();
    files.filter((_, i) => !outcomes[i].next).forEach((file) => left.items.add(file));
    input.files = left.files;
    if (arrived.length) {
      const on = document.createElement("li");
      const link = document.createElement("a");
      link.className = "btn btn-plain";
      link.href = arrived[arrived.length - 1].next;
      link.textContent =
        arrived.length === 1 ? "Go on with the file that is here" : "Go on with the files that are here";
      on.append(link);
      list.append(on);
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
        sendAll(form, input, files);
      }
    });
  }

  function startAll() {
    document.querySelectorAll("form[data-upload]").forEach(start);
  }
  document.addEventListener("DOMContentLoaded", startAll);
  document.addEventListener("htmx:afterSettle", startAll);
})();
