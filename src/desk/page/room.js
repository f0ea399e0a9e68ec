// The room: one key for each target, a line read back while it is typed, half-typed words kept sealed.
"use strict";
(() => {
  const room = document.querySelector("[data-room]");
  if (!room) return;
  const address = `/room/${room.dataset.room}`;
  const word = document.querySelector("input[name='form-word']").value;
  const writing = (element) => element && (element.isContentEditable || /^(TEXTAREA|SELECT)$/.test(element.tagName)
    || (element.tagName === "INPUT" && !/^(radio|checkbox|submit|button)$/.test(element.type)));
  const covered = () => { const cover = document.getElementById("covered"); return cover && !cover.hidden; };

  // Numbers: the pad opens in place; then each digit is a key, and 10 is T.
  const pad = document.getElementById("number");
  const openPad = (on) => {
    pad.classList.toggle("open", on);
    if (on) pad.querySelector("[data-digit='0']").focus();
  };
  for (const opener of document.querySelectorAll(".target.count")) {
    opener.addEventListener("click", (event) => { event.preventDefault(); openPad(!pad.classList.contains("open")); });
  }
  for (const closer of pad.querySelectorAll("[data-close-number]")) {
    closer.addEventListener("click", (event) => { event.preventDefault(); openPad(false); });
  }

  // Keys. A pedal's keys work also while something is typed; single letters only while nothing is.
  addEventListener("keydown", (event) => {
    if (event.defaultPrevented || event.ctrlKey || event.altKey || event.metaKey || event.repeat || covered()) return;
    const here = document.activeElement;
    const pedal = document.querySelector(`[data-pedal="${CSS.escape(event.key)}"]`);
    if (pedal) { event.preventDefault(); if (!pedal.disabled) pedal.click(); return; }
    if (room.dataset.keys !== "on" || writing(here)) return;
    if (pad.classList.contains("open")) {
      const digit = event.key.toLowerCase() === "t" ? "10" : event.key;
      const button = /^(\d|10)$/.test(digit) && pad.querySelector(`[data-digit="${digit}"]`);
      if (button) { event.preventDefault(); button.click(); return; }
    }
    // The space bar belongs to a button that has the focus.
    if (event.key === " " && here && here !== document.body && here.id !== "main") return;
    const target = document.querySelector(`[data-key="${CSS.escape(event.key.toLowerCase())}"]`);
    if (target && !target.disabled) { event.preventDefault(); target.click(); }
  });

  const post = (where, fields, more) => {
    const body = new URLSearchParams([["form-word", word], ...fields]);
    return fetch(`${address}/${where}`, { method: "POST", body, cache: "no-store", ...more });
  };

  // A line is read back while it is typed.
  const line = document.getElementById("line");
  const reading = document.getElementById("reading");
  const form = line.form;
  let asked = 0;
  const read = async () => {
    const typed = line.value.trim();
    const mine = ++asked;
    if (!typed) { reading.replaceChildren(); return; }
    const answer = await post("reads", [["line", typed]]).catch(() => null);
    if (!answer || !answer.ok || mine !== asked) return;
    reading.innerHTML = await answer.text();
    const clear = reading.querySelector("[data-clear='yes']");
    let seen = form.elements.seen;
    if (clear) {
      if (!seen) { seen = document.createElement("input"); seen.type = "hidden"; seen.name = "seen"; form.append(seen); }
      seen.value = typed;
    } else if (seen) seen.remove();
    form.querySelector("button.main").textContent = clear ? line.dataset.add : line.dataset.read;
  };
  let pause;
  line.addEventListener("input", () => { clearTimeout(pause); pause = setTimeout(read, 180); });
  // Words that often stand behind a line, in one touch.
  const behind = document.querySelector("[data-behind]");
  behind.hidden = false;
  for (const chip of behind.querySelectorAll("[data-append]")) {
    chip.addEventListener("click", () => { line.value = `${line.value.trim()} ${chip.dataset.append}`.trim(); read(); });
  }
  // Enter right behind the last letter: what is added must have been read back.
  form.addEventListener("submit", (event) => {
    const chosen = event.submitter && event.submitter.name;
    const seen = form.elements.seen;
    if (chosen || (seen && seen.value === line.value.trim()) || !line.value.trim()) return;
    event.preventDefault();
    delete form.dataset.sent;
    clearTimeout(pause);
    read().then(() => { delete form.dataset.sent; });
  });

  // What stands half typed is kept, every two seconds and when the page goes away.
  const kept = new Map();
  const fields = () => [...document.querySelectorAll("[data-kept]")];
  for (const field of fields()) kept.set(field.dataset.kept, field.value);
  let leaving = false;
  const keep = async (keepalive) => {
    const changed = fields().filter((field) => kept.get(field.dataset.kept) !== field.value);
    if (!changed.length || leaving) return;
    const pairs = changed.flatMap((field) => [["name", field.dataset.kept], ["words", field.value]]);
    const then = changed.map((field) => [field.dataset.kept, field.value]);
    const answer = await post("keep", pairs, { keepalive }).catch(() => null);
    if (answer && answer.ok) for (const [name, words] of then) kept.set(name, words);
  };
  setInterval(() => keep(false), 2000);
  addEventListener("pagehide", () => keep(true));
  document.addEventListener("visibilitychange", () => { if (document.hidden) keep(true); });
  // A form that is sent brings its own words.
  addEventListener("submit", (event) => { if (!event.defaultPrevented) leaving = true; });
})();
