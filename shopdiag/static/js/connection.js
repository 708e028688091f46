/* Pages without a connection. Browsers have service workers on HTTPS and on the machine itself only;
   on plain HTTP all goes on without. */
import { mayBeSentAgain } from "./once.js";
import { gettext } from "./words.js";

const language = document.documentElement.lang.slice(0, 2);

function tellNotSent(form) {
  let note = form.querySelector(".form-not-sent");
  if (!note) {
    note = document.createElement("p");
    note.className = "message message-warning form-not-sent";
    note.setAttribute("role", "alert");
    form.prepend(note);
  }
  note.textContent = gettext(
    "The server does not answer. What you typed stands here: save it again once the connection is back.",
  );
  note.scrollIntoView({ block: "center" });
}

async function begin() {
  const address = `/service-worker.js?language=${language}`;
  try {
    await navigator.serviceWorker.register(address, { updateViaCache: "none" });
  } catch {
    /* Switched off, or a certificate that the browser does not trust: as on plain HTTP. */
  }
}

if ("serviceWorker" in navigator) {
  navigator.serviceWorker.addEventListener("message", function (event) {
    if (event.data?.kind === "form-not-sent") {
      const sent = [...document.querySelectorAll("form[data-sent]")];
      mayBeSentAgain();
      sent.forEach(tellNotSent);
    }
  });
  window.addEventListener("load", begin);
}
