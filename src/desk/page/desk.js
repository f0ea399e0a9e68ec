// Prints the page where a button for it stands; without scripts the browser's own way does.
"use strict";
(() => {
  for (const button of document.querySelectorAll("[data-print]")) {
    button.hidden = false;
    button.addEventListener("click", () => print());
  }
})();
