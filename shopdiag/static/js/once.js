/* A form is sent once: a second press of the button does nothing until the answer is here, and what
   was sent before going back carries the token it had then, so that the server knows it again. */
/* A short digest of what a form holds, so that the browser keeps no words of anybody. */
function digestOf(form, submitter) {
  const parts = [form.action];
  for (const [name, value] of new FormData(form, submitter)) {
    if (name !== "form_token" && name !== "csrfmiddlewaretoken") {
      parts.push(name, typeof value === "string" ? value : value.name + value.size);
    }
  }
  let high = 0xdeadbeef;
  let low = 0x41c6ce57;
  for (const character of JSON.stringify(parts)) {
    const code = character.codePointAt(0);
    high = Math.imul(high ^ code, 2654435761);
    low = Math.imul(low ^ code, 1597334677);
  }
  return (high >>> 0).toString(16) + (low >>> 0).toString(16);
}

/* Pages are kept by no cache: going back fetches a new token and puts the old words beside it. */
export function takeEarlierToken(form, submitter) {
  const token = form.querySelector('input[name="form_token"]');
  if (!token) {
    return;
  }
  const key = "sent:" + digestOf(form, submitter);
  const navigation = performance.getEntriesByType("navigation")[0];
  try {
    if (navigation && navigation.type === "back_forward") {
      token.value = sessionStorage.getItem(key) || token.value;
    }
    sessionStorage.setItem(key, token.value);
  } catch {
    /* Without storage the form goes as it is. */
  }
}

document.addEventListener("submit", function (event) {
  const form = event.target;
  if (event.defaultPrevented || form.method !== "post") {
    return;
  }
  if (form.dataset.sent) {
    event.preventDefault();
    return;
  }
  takeEarlierToken(form, event.submitter);
  form.dataset.sent = "yes";
  /* After the browser has read the form: a disabled button would not send its value. */
  setTimeout(function () {
    for (const button of form.querySelectorAll('button[type="submit"]')) {
      button.disabled = true;
      button.setAttribute("aria-busy", "true");
    }
  }, 0);
});

/* Where no answer took the page's place. */
export function mayBeSentAgain() {
  for (const form of document.querySelectorAll("form[data-sent]")) {
    delete form.dataset.sent;
    for (const button of form.querySelectorAll('button[aria-busy="true"]')) {
      button.disabled = false;
      button.removeAttribute("aria-busy");
    }
  }
}

/* Back from the browser's memory. */
window.addEventListener("pageshow", function (event) {
  if (event.persisted) {
    mayBeSentAgain();
  }
});

/* What went wrong is where reading goes on, wherever it stands: in a fold, or beside one field. */
const TROUBLE = [
  ".conflict[tabindex], .errors-summary[tabindex]",
  "main .message-error",
  'main [aria-invalid="true"], main .errorlist',
];

function lookAt(trouble) {
  for (let around = trouble.closest("details"); around; around = around.parentElement.closest("details")) {
    around.open = true;
  }
  if (!trouble.matches("a[href], button, input, select, textarea, [tabindex]")) {
    trouble.tabIndex = -1;
  }
  trouble.focus();
}

document.addEventListener("DOMContentLoaded", function () {
  const trouble = TROUBLE.map((some) => document.querySelector(some)).find(Boolean);
  if (trouble) {
    lookAt(trouble);
    /* A place that the address names is looked for once all is loaded. */
    window.addEventListener("load", () => setTimeout(() => trouble.scrollIntoView({ block: "nearest" })));
  }
});

/* An open menu closes on Escape and on a click elsewhere. */
function closeMenus(except) {
  for (const menu of document.querySelectorAll("details.menu[open]")) {
    if (menu !== except) {
      menu.open = false;
    }
  }
}
document.addEventListener("click", (event) => closeMenus(event.target.closest("details.menu")));
document.addEventListener("keydown", function (event) {
  if (event.key === "Escape") {
    closeMenus(null);
  }
});
