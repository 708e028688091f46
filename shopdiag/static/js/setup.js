/* The scale of clamp or transducer is either one of the list or typed: each takes the other away. */
const form = document.querySelector(".setup-form");

function follow(name) {
  const typed = form.elements.namedItem(`${name}_typed`);
  const choices = form.querySelectorAll(`input[name="${name}"]`);
  if (!typed || !choices.length) {
    return;
  }
  typed.addEventListener("input", function () {
    if (typed.value.trim()) {
      form.querySelector(`input[name="${name}"][value="other"]`).checked = true;
    }
  });
  for (const choice of choices) {
    choice.addEventListener("change", function () {
      if (choice.value !== "other") {
        typed.value = "";
      }
    });
  }
}

if (form) {
  follow("scale");
  follow("pressure_scale");
}

/* A channel plays one part: giving it another one hands its own to whichever had that before. */
const PARTS = ["current_channel", "sync_channel", "voltage_channel"];

function chosen(part) {
  const tap = form.querySelector(`input[name="${part}"]:checked`);
  return tap ? tap.value : null;
}

function choose(part, channel) {
  for (const tap of form.querySelectorAll(`input[name="${part}"]`)) {
    tap.checked = tap.value === channel;
  }
}

if (form) {
  const before = Object.fromEntries(PARTS.map((part) => [part, chosen(part)]));
  form.addEventListener("change", function (event) {
    const part = event.target.name;
    if (!PARTS.includes(part)) {
      return;
    }
    const other = event.target.value && PARTS.find((p) => p !== part && chosen(p) === event.target.value);
    if (other) {
      choose(other, before[part]);
    }
    for (const one of PARTS) {
      before[one] = chosen(one);
    }
  });
}
