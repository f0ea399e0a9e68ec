// Helps the hand; every page works without it. Asks nothing of any other computer and keeps nothing in the browser.
"use strict";
(() => {
  const unlocked = document.body.dataset.unlocked === "yes";

  // The page is gone when the store is locked elsewhere, when it locks itself, and when the computer wakes.
  const look = async () => {
    try {
      const answer = await fetch("/still", { cache: "no-store" });
      if (answer.status === 403) location.replace("/locked");
    } catch {
      // The server is not there for the moment; what is typed stays on the page.
    }
  };
  if (unlocked) {
    setInterval(look, 5000);
    document.addEventListener("visibilitychange", () => { if (!document.hidden) look(); });
  }
  // Typing is work: it keeps the page from locking itself, and is told of no more than three times a minute.
  let told = 0;
  if (unlocked) {
    addEventListener("input", () => {
      if (Date.now() - told < 20000) return;
      told = Date.now();
      fetch("/typing", { cache: "no-store" }).catch(() => {});
    });
  }
  // A page that the browser kept for its Back button is asked for again.
  addEventListener("pageshow", (event) => { if (event.persisted) location.reload(); });

  // Covered while somebody leans over: the button, or Escape; any key or touch uncovers.
  const cover = document.getElementById("covered");
  const show = (on) => {
    if (!cover) return;
    cover.hidden = !on;
    for (const part of document.querySelectorAll("main, .spine, footer")) part.inert = on;
  };
  if (unlocked && cover) {
    for (const button of document.querySelectorAll("[data-cover]")) {
      button.hidden = false;
      button.addEventListener("click", () => show(true));
    }
    addEventListener("keydown", (event) => {
      if (!cover.hidden) { show(false); event.preventDefault(); } else if (event.key === "Escape") show(true);
    });
    cover.addEventListener("click", () => show(false));
  }
  // Prints the page, or the frame that the button names; without scripts the browser's own way does.
  for (const button of document.querySelectorAll("[data-print]")) {
    button.hidden = false;
    button.addEventListener("click", () => {
      const frame = document.getElementById(button.dataset.print);
      (frame ? frame.contentWindow : window).print();
    });
  }
  // A form is sent once.
  addEventListener("submit", (event) => {
    if (event.target.dataset.sent) { event.preventDefault(); return; }
    event.target.dataset.sent = "yes";
  });
})();
