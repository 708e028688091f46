/* The page that stands for another while there is no connection: it tells what waits on this device
   and opens the page that was asked for as soon as the server answers. */
import { filled, gettext } from "./words.js";

const ASK_MS = 5_000;

function waiting() {
  try {
    return Object.keys(localStorage).filter(
      (key) => key.startsWith("draft:") && JSON.parse(localStorage.getItem(key))?.waiting,
    ).length;
  } catch {
    return 0;
  }
}

async function ask() {
  try {
    const answer = await fetch("/healthz", { cache: "no-store" });
    if (answer.ok) {
      location.reload();
      return;
    }
  } catch {
    /* Not yet. */
  }
  setTimeout(ask, ASK_MS);
}

const count = waiting();
if (count) {
  const told = document.querySelector("[data-waiting]");
  told.textContent = filled(gettext("Forms waiting on this device: %(count)s"), { count });
  told.hidden = false;
}
/* Opened by its own address it stands for nothing. */
if (location.pathname !== "/offline/") {
  const again = document.querySelector("[data-again]");
  again.hidden = false;
  again.addEventListener("click", () => location.reload());
  window.addEventListener("online", ask);
  setTimeout(ask, ASK_MS);
}
