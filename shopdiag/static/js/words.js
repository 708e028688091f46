/* Texts of the scripts. A page in another language brings a catalogue (Django's JavaScriptCatalog)
   as `window.django`; without one they are English. */
export function gettext(text) {
  return globalThis.django?.gettext?.(text) ?? text;
}

/* A text with its %(names)s filled in. */
export function filled(text, figures) {
  return text.replace(/%\((\w+)\)s/g, (_, name) => figures[name]);
}
