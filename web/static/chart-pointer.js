// Mouse, pen and touch on the chart: drag, wheel, pinch, click.

const STILL = 5; // pixels a press may wander and still be a click

export function followPointer(canvas, plan) {
  const down = new Map();
  let moved = 0;
  const at = (event) => {
    const corner = canvas.getBoundingClientRect();
    return { x: event.clientX - corner.x, y: event.clientY - corner.y };
  };

  canvas.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    if (!down.size) moved = 0;
    down.set(event.pointerId, at(event));
    canvas.setPointerCapture(event.pointerId);
  });

  canvas.addEventListener("pointermove", (event) => {
    const point = at(event);
    const before = down.get(event.pointerId);
    if (!before) {
      canvas.classList.toggle("over", plan.barAt(point.x, point.y) !== null);
      return;
    }
    const others = [...down].filter(([id]) => id !== event.pointerId).map(([, p]) => p);
    down.set(event.pointerId, point);
    moved += Math.abs(point.x - before.x) + Math.abs(point.y - before.y);
    if (moved <= STILL) return;
    canvas.classList.add("dragging");
    if (others.length) {
      const now = Math.abs(point.x - others[0].x);
      const then = Math.abs(before.x - others[0].x);
      if (now > 8 && then > 8) plan.layout.zoom(then / now, plan.layout.minute((point.x + others[0].x) / 2));
    }
    plan.layout.pan((before.x - point.x) / (others.length + 1) / plan.layout.scale);
    plan.draw();
  });

  const up = (event) => {
    if (!down.delete(event.pointerId)) return;
    canvas.classList.remove("dragging");
    if (event.type === "pointerup" && moved <= STILL && !down.size) {
      const point = at(event);
      const bar = plan.barAt(point.x, point.y);
      if (bar) plan.open(bar);
      else if (plan.lit) plan.clear();
    }
  };
  canvas.addEventListener("pointerup", up);
  canvas.addEventListener("pointercancel", up);

  // The chart may be taller than the window, so the plain wheel scrolls the page; a pinch on a touch pad comes with Ctrl.
  canvas.addEventListener(
    "wheel",
    (event) => {
      const { x } = at(event);
      const zooms = event.ctrlKey || event.metaKey;
      const sideways = event.shiftKey || Math.abs(event.deltaX) > Math.abs(event.deltaY);
      if (!zooms && !sideways) return;
      event.preventDefault();
      if (zooms) plan.layout.zoom(Math.exp(event.deltaY * 0.0015), plan.layout.minute(Math.max(x, plan.layout.names)));
      else plan.layout.pan((event.deltaX || event.deltaY) / plan.layout.scale);
      plan.draw();
    },
    { passive: false },
  );
}
