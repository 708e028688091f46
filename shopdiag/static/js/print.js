/* A button with data-print opens the browser's print window. */
document.addEventListener("DOMContentLoaded", function () {
  "use strict";
  for (const button of document.querySelectorAll("[data-print]")) {
    button.hidden = false;
    button.addEventListener("click", () => window.print());
  }
});
