/* A note's time leads into the curve: an element with data-plot-goto="seconds" asks the plot above
   it for half a second around that time. Without a plot it stays the link that it is. */
const AROUND_S = 0.25;

document.addEventListener("click", function (event) {
  const link = event.target.closest("[data-plot-goto]");
  const target = link && document.querySelector(link.getAttribute("href") + " [data-plot-url]");
  const at = link ? Number(link.dataset.plotGoto) : NaN;
  if (!target || !Number.isFinite(at)) {
    return;
  }
  event.preventDefault();
  const detail = { from_s: at - AROUND_S, to_s: at + AROUND_S };
  const asked = new CustomEvent("plot:goto", { cancelable: true, detail });
  if (target.dispatchEvent(asked) && typeof Plotly !== "undefined") {
    Plotly.relayout(target, { "xaxis.range[0]": detail.from_s, "xaxis.range[1]": detail.to_s });
  }
  target.scrollIntoView({ block: "center" });
  target.focus({ preventScroll: true });
});
