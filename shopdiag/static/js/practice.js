// A tap on a hump ticks its box, and a ticked box hatches its hump; the form works without.

const humpsOf = (place) => document.querySelectorAll(`#part .practice-hump[data-place="${place}"]`);

function show(box) {
  for (const hump of humpsOf(box.dataset.place)) {
    hump.classList.toggle("is-weak", box.checked);
  }
}

function prepare() {
  const part = document.getElementById("part");
  if (!part) {
    return;
  }
  const boxes = document.querySelectorAll("input[data-place]");
  part.classList.toggle("practice-takes-taps", boxes.length > 0);
  for (const box of boxes) {
    show(box);
  }
  for (const row of document.querySelectorAll("[data-weak-place]")) {
    for (const hump of humpsOf(row.dataset.weakPlace)) {
      hump.classList.add("is-weak");
    }
  }
}

document.addEventListener("change", (event) => {
  if (event.target.matches("input[data-place]")) {
    show(event.target);
  }
});

document.addEventListener("click", (event) => {
  const hump = event.target.closest("#part .practice-hump");
  const box = hump && document.querySelector(`input[data-place="${hump.dataset.place}"]`);
  if (box) {
    box.checked = !box.checked;
    show(box);
    const weak = document.querySelector('input[name="call"][value="weak"]');
    if (weak && box.checked) {
      weak.checked = true;
    }
  }
});

document.addEventListener("htmx:afterSettle", prepare);
prepare();
