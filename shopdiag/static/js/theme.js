/* Light, dark or as the device: remembered on this device, applied before the page is drawn. */
(function () {
  "use strict";
  const KEY = "theme";
  const NEXT = { device: "light", light: "dark", dark: "device" };
  const root = document.documentElement;

  function remembered() {
    try {
      const value = localStorage.getItem(KEY);
      return value === "light" || value === "dark" ? value : "device";
    } catch {
      return "device";
    }
  }

  function apply(theme) {
    if (theme === "device") {
      delete root.dataset.theme;
    } else {
      root.dataset.theme = theme;
    }
  }

  let theme = remembered();
  apply(theme);

  function announce() {
    for (const toggle of document.querySelectorAll("[data-theme-toggle]")) {
      toggle.querySelector("[data-theme-word]").textContent = toggle.dataset[theme];
      toggle.hidden = false;
    }
    document.dispatchEvent(new CustomEvent("themechange"));
  }

  document.addEventListener("DOMContentLoaded", announce);
  document.addEventListener("click", function (event) {
    if (!event.target.closest("[data-theme-toggle]")) {
      return;
    }
    theme = NEXT[theme];
    try {
      localStorage.setItem(KEY, theme);
    } catch {
      /* Without storage the choice lasts for this page. */
    }
    apply(theme);
    announce();
  });
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", announce);
})();
