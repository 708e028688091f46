/* A form is sent once: a second press of the button does nothing until the answer is here. */
(function () {
  "use strict";

  document.addEventListener("submit", function (event) {
    const form = event.target;
    if (event.defaultPrevented || form.method !== "post") {
      return;
    }
    if (form.dataset.sent) {
      event.preventDefault();
      return;
    }
    form.dataset.sent = "yes";
    /* After the browser has read the form: a disabled button would not send its value. */
    setTimeout(function () {
      for (const button of form.querySelectorAll('button[type="submit"]')) {
        button.disabled = true;
        button.setAttribute("aria-busy", "true");
      }
    }, 0);
  });

  /* Back from the browser's memory: the form may be sent again. */
  window.addEventListener("pageshow", function (event) {
    if (!event.persisted) {
      return;
    }
    for (const form of document.querySelectorAll("form[data-sent]")) {
      delete form.dataset.sent;
      for (const button of form.querySelectorAll('button[aria-busy="true"]')) {
        button.disabled = false;
        button.removeAttribute("aria-busy");
      }
    }
  });

  /* What went wrong is where reading goes on. */
  document.addEventListener("DOMContentLoaded", function () {
    const trouble = document.querySelector(".conflict[tabindex], .errors-summary[tabindex]");
    if (trouble) {
      trouble.focus();
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
})();
