"use strict";
// A tap that comes within 400 ms of the last one is the same tap, also when the line has turned in between.
{
  let last = -400;
  document.addEventListener("click", (event) => {
    const tapped = event.target.closest(".marks button, .scores button, .undo-slot button");
    if (!tapped) return;
    if (event.timeStamp - last < 400) {
      event.preventDefault();
      event.stopImmediatePropagation();
      return;
    }
    last = event.timeStamp;
  }, true);
  // What turned is read out and starts at its top.
  document.addEventListener("htmx:afterSettle", (event) => {
    if (event.target.id !== "main") return;
    event.target.querySelector("[data-now]")?.focus({ preventScroll: true });
    scrollTo(0, 0);
  });
}
