/* The clamp's scale is either one of the list or typed: each answer takes the other away. */
const form = document.querySelector(".setup-form");
const typed = form && form.elements.namedItem("scale_typed");
const choices = form ? form.querySelectorAll('input[name="scale"]') : [];

function follow() {
  typed.addEventListener("input", function () {
    if (typed.value.trim()) {
      form.querySelector('input[name="scale"][value="other"]').checked = true;
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

if (typed && choices.length) {
  follow();
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
