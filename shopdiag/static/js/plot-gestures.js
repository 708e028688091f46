/* Wheel, mouse, fingers, keys and buttons of a plot.

   The page's own scrolling is never trapped: the plain wheel zooms only in a plot that has
   the focus, and a finger that goes up or down scrolls the page. */
import { moved, zoomed } from "./plot-view.js";

const FEW_PX = 5;
const DOUBLE_MS = 350;
const NEAR_PX = 30;
const LINE_PX = 16;

/* Where the axis lies in the element. */
export function axisOf(plot) {
  const { xaxis, _size } = plot.element._fullLayout;
  return { left: xaxis._offset, width: xaxis._length, foot: _size.t + _size.h };
}

function place(plot, event) {
  const box = plot.element.getBoundingClientRect();
  return { x: event.clientX - box.left, y: event.clientY - box.top };
}

function timeAt(plot, x, view = plot.range()) {
  const { left, width } = axisOf(plot);
  return view[0] + ((x - left) / width) * (view[1] - view[0]);
}

function choose(plot, tool) {
  plot.tool = tool;
  plot.element.dataset.tool = tool;
  for (const button of plot.frame?.querySelectorAll("[data-plot-tool]") || []) {
    button.setAttribute("aria-pressed", String(button.dataset.plotTool === tool));
  }
}

function act(plot, what) {
  const view = plot.range();
  const span = view[1] - view[0];
  const middle = (view[0] + view[1]) / 2;
  const { start, end } = plot.bounds;
  const acts = {
    in: () => plot.look(zoomed(view, middle, 1 / 2)),
    out: () => plot.look(zoomed(view, middle, 2)),
    left: () => plot.look(moved(view, -span / 4)),
    right: () => plot.look(moved(view, span / 4)),
    back: () => plot.look(moved(view, -span)),
    on: () => plot.look(moved(view, span)),
    first: () => plot.look([start, start + span]),
    last: () => plot.look([end - span, end]),
    whole: () => plot.look(null),
    clear: () => plot.cursors?.clear(),
  };
  acts[what]?.();
}

const KEYS = {
  "+": "in",
  "=": "in",
  "-": "out",
  ArrowLeft: "left",
  ArrowRight: "right",
  PageUp: "back",
  PageDown: "on",
  Home: "first",
  End: "last",
  0: "whole",
};

function keys(plot) {
  plot.element.addEventListener("keydown", function (event) {
    if (event.altKey || event.ctrlKey || event.metaKey) {
      return;
    }
    if (event.key === "Escape") {
      plot.element.blur();
    } else if (plot.cursors?.key(event)) {
      event.preventDefault();
    } else if (event.key in KEYS && !(event.shiftKey && event.key.startsWith("Arrow"))) {
      event.preventDefault();
      act(plot, KEYS[event.key]);
    }
  });
}

function wheel(plot) {
  plot.element.addEventListener(
    "wheel",
    function (event) {
      const always = event.ctrlKey || event.metaKey || event.shiftKey;
      if (!always && !plot.element.contains(document.activeElement)) {
        return;
      }
      const unit = [1, LINE_PX, plot.element.clientHeight][event.deltaMode] || 1;
      const view = plot.range();
      if (!always && Math.abs(event.deltaX) > Math.abs(event.deltaY)) {
        event.preventDefault();
        const { width } = axisOf(plot);
        plot.look(moved(view, ((event.deltaX * unit) / width) * (view[1] - view[0])));
        return;
      }
      const turned = (event.deltaY || event.deltaX) * unit;
      if (!always && turned > 0 && !plot.view) {
        return; /* the whole is there already: let the page scroll on */
      }
      event.preventDefault();
      const times = Math.exp(Math.min(Math.max(turned * 0.003, -0.7), 0.7));
      plot.look(zoomed(view, timeAt(plot, place(plot, event).x), times));
    },
    { passive: false },
  );
}

function pointers(plot) {
  const { element } = plot;
  const down = new Map();
  let gesture = null;
  let tapped = { at: 0, x: 0 };
  const band = document.createElement("div");
  band.className = "plot-band";
  band.hidden = true;
  element.append(band);

  /* The legend has clicks of its own, except under a cursor's flag. */
  function others(event) {
    const at = place(plot, event.touches?.[0] || event);
    return event.target.closest(".legend") && !plot.cursors?.near(at, 0);
  }

  /* What a drag from here does. */
  function begun(at) {
    const grabbed = plot.cursors?.near(at, plot.tool === "cursors" ? NEAR_PX : 0);
    const kind = grabbed || plot.tool === "cursors" ? "cursors" : plot.tool;
    return { kind, grabbed, from: at, view: [...plot.range()], moved: false };
  }

  function pinched() {
    const [one, other] = [...down.values()];
    const middle = (one.x + other.x) / 2;
    const apart = Math.max(Math.hypot(one.x - other.x, one.y - other.y), 10);
    const view = [...plot.range()];
    return { kind: "pinch", moved: true, apart, view, at: timeAt(plot, middle, view) };
  }

  function drawBand(from, to) {
    const { left, width } = axisOf(plot);
    const inside = (x) => Math.min(Math.max(x, left), left + width);
    const [low, high] = [inside(Math.min(from, to)), inside(Math.max(from, to))];
    band.hidden = false;
    band.style.left = low + "px";
    band.style.width = high - low + "px";
    return [low, high];
  }

  function follow(at) {
    const { width } = axisOf(plot);
    const span = gesture.view[1] - gesture.view[0];
    if (gesture.kind === "pinch") {
      const [one, other] = [...down.values()];
      const apart = Math.max(Math.hypot(one.x - other.x, one.y - other.y), 10);
      const wanted = (span * gesture.apart) / apart;
      const share = ((one.x + other.x) / 2 - axisOf(plot).left) / width;
      const from = gesture.at - share * wanted;
      plot.look([from, from + wanted]);
    } else if (gesture.kind === "pan") {
      plot.look(moved(gesture.view, ((gesture.from.x - at.x) / width) * span));
    } else if (gesture.kind === "box") {
      drawBand(gesture.from.x, at.x);
    } else {
      gesture.grabbed = gesture.grabbed || plot.cursors.place(timeAt(plot, gesture.from.x));
      plot.cursors.move(gesture.grabbed, timeAt(plot, at.x));
    }
  }

  function ended(at, event) {
    if (gesture.kind === "box" && gesture.moved) {
      const [low, high] = drawBand(gesture.from.x, at.x);
      band.hidden = true;
      if (high - low >= FEW_PX) {
        plot.look([timeAt(plot, low), timeAt(plot, high)]);
      }
    } else if (!gesture.moved) {
      const twice =
        event.timeStamp - tapped.at < DOUBLE_MS && Math.abs(at.x - tapped.x) < NEAR_PX;
      tapped = twice ? { at: 0, x: 0 } : { at: event.timeStamp, x: at.x };
      if (twice && gesture.kind !== "cursors") {
        plot.look(null);
      } else if (gesture.kind === "cursors" && !gesture.grabbed) {
        plot.cursors.place(timeAt(plot, at.x));
      }
      if (gesture.kind !== "cursors") {
        element.dispatchEvent(
          new CustomEvent("plot:tapped", { bubbles: true, detail: { ...at, twice } }),
        );
      }
    }
  }

  element.addEventListener("pointerdown", function (event) {
    if (event.button !== 0 || others(event)) {
      return;
    }
    if (event.isPrimary) {
      down.clear(); /* a finger whose end was never told here */
    }
    down.set(event.pointerId, place(plot, event));
    plot.held = true;
    if (down.size === 1) {
      gesture = begun(place(plot, event));
    } else if (down.size === 2) {
      band.hidden = true;
      gesture = pinched();
      for (const finger of down.keys()) {
        element.setPointerCapture(finger);
      }
    }
    if (event.pointerType === "mouse") {
      element.focus({ preventScroll: true });
    }
  });

  element.addEventListener("pointermove", function (event) {
    if (!down.has(event.pointerId) || !gesture) {
      return;
    }
    if (!event.buttons) {
      up(event); /* let go outside of the plot */
      return;
    }
    const at = place(plot, event);
    down.set(event.pointerId, at);
    if (!gesture.moved) {
      if (Math.abs(at.x - gesture.from.x) < FEW_PX) {
        return;
      }
      gesture.moved = true;
      element.setPointerCapture(event.pointerId);
    }
    follow(at);
  });

  function up(event) {
    if (!down.has(event.pointerId)) {
      return;
    }
    const at = down.get(event.pointerId);
    down.delete(event.pointerId);
    if (event.type === "pointerup" && gesture && gesture.kind !== "pinch") {
      ended(at, event);
    }
    band.hidden = true;
    /* One finger of two lifted: the other goes on from where it is. */
    gesture = down.size === 1 ? { ...begun([...down.values()][0]), kind: "pan", moved: true } : null;
    if (!down.size) {
      plot.held = false;
      plot.look(plot.view);
    }
  }
  element.addEventListener("pointerup", up);
  element.addEventListener("pointercancel", up);

  /* The plot's library would begin drags of its own. */
  for (const name of ["mousedown", "touchstart"]) {
    element.addEventListener(
      name,
      function (event) {
        if (!others(event)) {
          event.stopPropagation();
        }
      },
      { capture: true, passive: true },
    );
  }
  element.addEventListener(
    "touchmove",
    function (event) {
      if (event.cancelable && (event.touches.length > 1 || gesture?.moved)) {
        event.preventDefault();
      }
    },
    { passive: false },
  );
}

function buttons(plot) {
  plot.frame?.addEventListener("click", function (event) {
    const tool = event.target.closest("[data-plot-tool]");
    const does = event.target.closest("[data-plot-do]");
    if (tool) {
      choose(plot, tool.dataset.plotTool);
    } else if (does) {
      act(plot, does.dataset.plotDo);
    }
  });
}

export function gestures(plot) {
  choose(plot, "pan");
  keys(plot);
  wheel(plot);
  pointers(plot);
  buttons(plot);
}
