/* Which stretch of a recording a plot shows: arithmetic only.

   A view is [from, to] in the file's own time, or null for the whole. `bounds` are
   {start, end, rate, unit}: views stay inside the recording and hold a few samples at least. */
import { filled, gettext } from "./words.js";

const LEAST_SAMPLES = 4;

const PACKED = { f4: Float32Array, f8: Float64Array, i4: Int32Array, i2: Int16Array };

/* A list of numbers, whether it came as one or packed. */
export function numbers(values) {
  if (!values || !values.bdata) {
    return values || [];
  }
  const bytes = Uint8Array.from(atob(values.bdata), (c) => c.charCodeAt(0));
  return new (PACKED[values.dtype] || Float64Array)(bytes.buffer);
}

/* What the JSON says of the recording; else what the first curve drawn as a whole covers. */
export function boundsOf(json) {
  const meta = json.layout.meta;
  if (meta && meta.end_s > meta.start_s) {
    return { start: meta.start_s, end: meta.end_s, rate: meta.rate_hz, unit: meta.unit };
  }
  const times = numbers(json.data[0] && json.data[0].x);
  const [start, end] = [Number(times[0]) || 0, Number(times[times.length - 1]) || 1];
  return { start, end: end > start ? end : start + 1, rate: times.length / (end - start || 1), unit: "s" };
}

export function clamped(view, bounds) {
  const whole = bounds.end - bounds.start;
  const least = Math.min(LEAST_SAMPLES / bounds.rate, whole);
  const middle = (view[0] + view[1]) / 2;
  let span = view[1] - view[0];
  if (!(span < whole * (1 - 1e-9))) {
    return null;
  }
  let from = view[0];
  if (span < least) {
    span = least;
    from = middle - span / 2;
  }
  from = Math.min(Math.max(from, bounds.start), bounds.end - span);
  return [from, from + span];
}

/* The stretch `times` as long about `at`, which stays where it is on the screen. */
export function zoomed(view, at, times) {
  return [at - (at - view[0]) * times, at + (view[1] - at) * times];
}

export function moved(view, by) {
  return [view[0] + by, view[1] + by];
}

export function same(one, other) {
  return one === other || Boolean(one && other && one[0] === other[0] && one[1] === other[1]);
}

/* The time of the sample nearest to a time. */
export function snapped(at, bounds) {
  const last = Math.round((bounds.end - bounds.start) * bounds.rate);
  const index = Math.min(Math.max(Math.round((at - bounds.start) * bounds.rate), 0), last);
  return bounds.start + index / bounds.rate;
}

/* Which stretch is shown, and what a pixel of it stands for, in words. */
export function stretchWords(view, bounds, pixels) {
  const [from, to] = view;
  const samples = Math.round((to - from) * bounds.rate) + 1;
  const detail =
    samples <= 2 * pixels
      ? gettext("every sample")
      : filled(gettext("highs and lows of %(count)s samples a pixel"), {
          count: Math.ceil(samples / pixels),
        });
  if (bounds.unit === "deg") {
    const whole = { from: Math.round(from), to: Math.round(to) };
    return filled(gettext("Shown: %(from)s to %(to)s degrees of crank."), whole);
  }
  if (bounds.unit !== "s") {
    const told = { from: Math.round(from), to: Math.round(to), detail };
    return filled(gettext("Shown: samples %(from)s to %(to)s; %(detail)s."), told);
  }
  const digits = Math.min(Math.max(3 - Math.floor(Math.log10(to - from)), 2), 9);
  const told = { from: from.toFixed(digits), to: to.toFixed(digits), detail };
  return filled(gettext("Shown: %(from)s s to %(to)s s; %(detail)s."), told);
}
