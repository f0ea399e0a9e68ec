// The signature pad: what finger, pen or mouse draws, kept as strokes with their times.
"use strict";
(() => {
  const canvas = document.getElementById("canvas");
  if (!canvas) return;
  document.getElementById("pad").hidden = false;
  const field = document.getElementById("strokes");
  // As wide and high as it is shown, so that a name is kept in the shape it was drawn in.
  const shown = canvas.getBoundingClientRect();
  canvas.width = Math.round(shown.width * 2);
  canvas.height = Math.round(shown.height * 2);
  const pen = canvas.getContext("2d");
  // Whole numbers, fine enough for a pen: the canvas is written down ten times as large as it is drawn.
  const SCALE = 5;
  const MOST = 15000;
  let strokes = [];
  let stroke = null;
  let began = 0;
  let used = null;
  let count = 0;

  const draw = (from, to) => {
    pen.lineWidth = 5; pen.lineCap = "round"; pen.lineJoin = "round"; pen.strokeStyle = "#000";
    pen.beginPath();
    pen.moveTo(from[0] / SCALE, from[1] / SCALE);
    pen.lineTo(to[0] / SCALE, to[1] / SCALE);
    pen.stroke();
  };
  const point = (event) => {
    const box = canvas.getBoundingClientRect();
    const on = (at, from, size, most) => Math.min(most, Math.max(0, Math.round(((at - from) / size) * most)));
    if (!began) began = event.timeStamp;
    const last = stroke && stroke.length ? stroke[stroke.length - 1][2] : 0;
    const time = Math.max(last, Math.round(event.timeStamp - began));
    const at = [on(event.clientX, box.left, box.width, canvas.width * SCALE), on(event.clientY, box.top, box.height, canvas.height * SCALE), time];
    if (event.pointerType === "pen" && event.pressure > 0) at.push(Math.round(event.pressure * 1000));
    return at;
  };
  const keep = () => {
    field.value = strokes.length ? JSON.stringify({ width: canvas.width * SCALE, height: canvas.height * SCALE, ...(used && { with: used }), strokes }) : "";
  };
  const add = (event) => {
    if (count >= MOST) return;
    const at = point(event);
    const last = stroke[stroke.length - 1];
    if (last && last[0] === at[0] && last[1] === at[1]) return;
    stroke.push(at);
    count += 1;
    draw(last ?? at, at);
  };
  let finger = null;
  canvas.addEventListener("pointerdown", (event) => {
    if (finger !== null || event.button > 0) return;
    finger = event.pointerId;
    used ??= event.pointerType || null;
    canvas.setPointerCapture(finger);
    stroke = [];
    strokes.push(stroke);
    add(event);
    event.preventDefault();
  });
  canvas.addEventListener("pointermove", (event) => {
    if (event.pointerId !== finger) return;
    const all = event.getCoalescedEvents ? event.getCoalescedEvents() : [];
    for (const one of all.length ? all : [event]) add(one);
  });
  const end = (event) => {
    if (event.pointerId !== finger) return;
    finger = null;
    keep();
  };
  canvas.addEventListener("pointerup", end);
  canvas.addEventListener("pointercancel", end);
  document.getElementById("pad-clear").addEventListener("click", () => {
    strokes = []; stroke = null; began = 0; used = null; count = 0;
    pen.clearRect(0, 0, canvas.width, canvas.height);
    keep();
  });
})();
