/* What stands in a form: read as it would be sent, and put back. */
const OWN = new Set(["csrfmiddlewaretoken", "confirmed"]);

function controlsOf(form) {
  return [...form.elements].filter(
    (e) => e.name && !OWN.has(e.name) && !["file", "password", "submit", "button"].includes(e.type),
  );
}

/* The values as the form would send them; a proposal that nobody confirmed is left to be made anew. */
export function valuesOf(form) {
  const values = {};
  for (const control of controlsOf(form)) {
    values[control.name] ??= [];
    const isOn = !["checkbox", "radio"].includes(control.type) || control.checked;
    if (isOn && !("proposed" in control.dataset)) {
      values[control.name].push(control.value);
    }
  }
  return values;
}

/* What was put back is seen, also where its part was folded. */
function showWithin(control) {
  const around = control.type === "hidden" ? null : control.closest("details");
  if (around) {
    around.open = true;
  }
}

export function fill(form, values) {
  for (const control of controlsOf(form)) {
    const said = values[control.name];
    if (!said) {
      continue;
    }
    if (["checkbox", "radio"].includes(control.type)) {
      const isOn = said.includes(control.value);
      if (control.checked !== isOn) {
        showWithin(control);
      }
      control.checked = isOn;
    } else if (control.value !== (said[0] ?? "")) {
      control.value = said[0] ?? "";
      showWithin(control);
      if (control.hasAttribute("hx-get")) {
        /* what the server remarks on as it is typed */
        control.dispatchEvent(new Event("change", { bubbles: true }));
      }
    }
  }
}

export function isTyped(form, values) {
  const hidden = new Set(
    [...form.elements].filter((e) => e.type === "hidden").map((e) => e.name),
  );
  const own = valuesOf(form);
  return Object.keys(values).some(
    (name) => !hidden.has(name) && name in own && JSON.stringify(own[name]) !== JSON.stringify(values[name]),
  );
}
