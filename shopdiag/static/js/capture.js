/* A capture's page: links into folded parts open them, and the bar's choices fill in the form
   that signs. Without this script a link with a choice loads the page with the form open. */
import "./plot-humps.js";

function unfold(element) {
  for (let e = element; e; e = e.parentElement) {
    if (e.tagName === "DETAILS") {
      e.open = true;
    }
  }
}

function unfoldTarget() {
  const id = decodeURIComponent(location.hash.slice(1));
  const target = id && document.getElementById(id);
  if (target) {
    unfold(target);
    target.scrollIntoView();
  }
}

/* Browsers open what folds around a link's target by themselves; older ones do not. */
window.addEventListener("hashchange", unfoldTarget);
window.addEventListener("DOMContentLoaded", unfoldTarget);

/* A file that was just sent leads on to its set-up once; the way back ends here. */
if (new URLSearchParams(location.search).has("then")) {
  history.replaceState(history.state, "", location.pathname + location.hash);
}

/* A choice of the bar, without losing what is typed already. */
document.addEventListener("click", function (event) {
  const link = event.target.closest("a[data-found]");
  const part = link && document.getElementById(link.hash.slice(1));
  const form = part?.querySelector("form");
  if (!form || event.ctrlKey || event.metaKey || event.shiftKey) {
    return;
  }
  event.preventDefault();
  unfold(part);
  const choices = [...form.querySelectorAll('input[name="mechanical"]')];
  const chosen = choices.find((one) => one.value === link.dataset.found);
  if (chosen) {
    chosen.checked = true;
    chosen.dispatchEvent(new Event("change", { bubbles: true }));
  }
  part.scrollIntoView({ block: "start" });
  (chosen || choices[0] || form.querySelector("textarea"))?.focus({ preventScroll: true });
});
