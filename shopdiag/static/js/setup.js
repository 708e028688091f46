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
