/* Readings of all cylinders: Enter moves on, and the limit proposes what nobody has chosen.

   The server proposes by the same rule (jobs/core/proposed_outcomes.py) where no script runs; a
   test holds both against each other. */

const SLACK = 1e-6;

/* A figure as people type it, with a comma or a point; null for none, and for what is unclear. */
function figureOf(input) {
  const typed = input.value.trim().replace(",", ".");
  return /^\d+(\.\d*)?$/.test(typed) ? Number(typed) : null;
}

function proposedByLeak(limits, figures) {
  const proposed = new Map();
  for (const [cylinder, value] of figures) {
    if (value <= Number(limits.goodMost)) {
      proposed.set(cylinder, "good");
    } else if (value > Number(limits.badAbove)) {
      proposed.set(cylinder, "bad");
    }
  }
  return proposed;
}

function proposedByLimit(limits, figures, isComplete) {
  const proposed = new Map();
  const highest = Math.max(...figures.values());
  const several = figures.size > 1;
  for (const [cylinder, value] of figures) {
    const misses =
      (several && limits.share && value < Number(limits.share) * highest - SLACK) ||
      (limits.least && value < Number(limits.least) - SLACK) ||
      (several && limits.spread && highest - value > Number(limits.spread) + SLACK);
    if (misses) {
      proposed.set(cylinder, "bad");
    } else if (
      several && isComplete && value >= Number(limits.goodLeast)
    ) {
      proposed.set(cylinder, "good");
    }
  }
  return proposed;
}

/* Which outcomes nobody chose goes with the form: the server makes those anew. */
function noteProposed(form) {
  const rows = [...form.querySelectorAll("tr.reading-proposed")];
  form.elements.proposed.value = rows.map((row) => row.dataset.cylinder).join(",");
  for (const row of rows) {
    row.querySelector("[data-outcome]").dataset.proposed = "";
  }
}

/* A draft that was put back knows by its list which outcomes were proposed. */
function markProposed(form) {
  const proposed = form.elements.proposed.value.split(",");
  for (const row of form.querySelectorAll("tr.reading")) {
    row.classList.toggle("reading-proposed", proposed.includes(row.dataset.cylinder));
  }
}

function propose(form) {
  const limits = form.dataset;
  const isLeak = Boolean(limits.badAbove);
  if (!isLeak && !limits.goodLeast) {
    return;
  }
  const rows = [...form.querySelectorAll("tr.reading")];
  const figures = new Map();
  let isComplete = true;
  for (const row of rows) {
    const inputs = row.querySelectorAll("input[data-figure]");
    const value = figureOf(inputs[inputs.length - 1]);
    const isLeftOut = row.querySelector("[data-outcome]").value === "not_done";
    /* what no engine builds is a slip: nothing is held against it */
    if (value !== null && value <= Number(limits.most) && !isLeftOut) {
      figures.set(row, value);
    } else if (!isLeftOut) {
      isComplete = false;
    }
  }
  const proposed = isLeak ? proposedByLeak(limits, figures) : proposedByLimit(limits, figures, isComplete);
  for (const row of rows) {
    const select = row.querySelector("[data-outcome]");
    const outcome = proposed.get(row) || "";
    row.classList.toggle("reading-low", !isLeak && outcome === "bad");
    const isOurs = select.value === "" || row.classList.contains("reading-proposed");
    if (isOurs && select.value !== "not_done") {
      select.value = outcome;
      row.classList.toggle("reading-proposed", outcome !== "");
      if (outcome === "") {
        delete select.dataset.proposed;
      } else {
        select.dataset.proposed = "";
      }
    }
  }
}

for (const form of document.querySelectorAll("form[data-readings]")) {
  form.addEventListener("input", function (event) {
    if (event.target.matches("[data-outcome]")) {
      event.target.closest("tr").classList.remove("reading-proposed");
      delete event.target.dataset.proposed;
    } else if (event.target === form) {
      markProposed(form);
    }
    propose(form);
    noteProposed(form);
  });
  noteProposed(form);
  form.addEventListener("keydown", function (event) {
    if (event.key !== "Enter" || !event.target.matches("[data-figure]")) {
      return;
    }
    event.preventDefault();
    const figures = [...form.querySelectorAll("input[data-figure]")];
    const next = figures[figures.indexOf(event.target) + 1];
    (next || form.querySelector('button[type="submit"]')).focus();
  });
}
