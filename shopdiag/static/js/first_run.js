// Proposes what the browser knows: its time zone, and what its region usually measures in.

/* Customary units and Letter paper by region, as Unicode CLDR's supplemental data (measurement and
   paper) has them; pounds per square inch and the currency by common practice. */
const REGIONS = {
  US: { pressure_unit: "psi", distance_unit: "mi", paper_size: "Letter", currency: "USD" },
  CA: { paper_size: "Letter", currency: "CAD" },
  MX: { paper_size: "Letter", currency: "MXN" },
  GB: { distance_unit: "mi", currency: "GBP" },
};

function regionOf(language) {
  try {
    return new Intl.Locale(language).region;
  } catch {
    return undefined;
  }
}

function choose(form, name, value) {
  const radio = form.querySelector(`input[type="radio"][name="${name}"][value="${value}"]`);
  if (radio) {
    radio.checked = true;
  } else if (form.elements.namedItem(name)) {
    form.elements.namedItem(name).value = value;
  }
}

const form = document.querySelector("form[data-proposes]");
if (form) {
  const zone = new Intl.DateTimeFormat().resolvedOptions().timeZone;
  const zones = form.elements.namedItem("time_zone");
  if ([...zones.options].some((option) => option.value === zone)) {
    zones.value = zone;
  }
  const proposed = REGIONS[regionOf(navigator.language)] ?? {};
  for (const [name, value] of Object.entries(proposed)) {
    choose(form, name, value);
  }
  form.querySelector("[data-proposed]").hidden = false;
}
