/* Texts of the scripts. A page in another language brings a catalogue (Django's JavaScriptCatalog)
   as `window.django`; without one they are English. */
export function gettext(text) {
  return globalThis.django?.gettext?.(text) ?? text;
}

const DECIMAL = globalThis.document?.documentElement.dataset.decimal || ".";
const NUMBER = /^[-−]?\d+(?:\.\d+)?(?: ?[%°A-Za-z]{1,6})?$/;

/* The sign between ones and tenths, and what stands between thousands: for plots. */
export const SEPARATORS = DECIMAL === "," ? ",\u00a0" : ".,";

/* A number, with or without its unit, with a minus sign and the page's decimal sign; other words stay
   as they are. */
export function written(words) {
  return NUMBER.test(words) ? words.replace("-", "−").replace(".", DECIMAL) : words;
}

/* A text with its %(names)s filled in. */
export function filled(text, figures) {
  return text.replace(/%\((\w+)\)s/g, (_, name) => written(String(figures[name])));
}
