"use strict";
// The slip on the day sheet: its place stays marked through every refresh, and the keyboard goes with it.
const marked = () => {
  const key = document.querySelector("#slip-here .slip")?.dataset.place;
  for (const place of document.querySelectorAll(".sheet .place.open")) place.classList.toggle("open", place.id === `p-${key}`);
  document.getElementById(`p-${key}`)?.classList.add("open");
};
document.addEventListener("htmx:afterSettle", (event) => {
  marked();
  if (event.detail.target?.id === "slip-here") document.querySelector("#slip-here .slip")?.focus({ preventScroll: true });
});
const here = document.getElementById("slip-here");
if (here) new MutationObserver(marked).observe(here, { childList: true });
