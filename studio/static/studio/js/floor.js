"use strict";
// Light or dark page, kept on this tablet. Runs before the first paint, so that a dark page never flashes white.
{
  const root = document.documentElement;
  const kept = () => { try { return localStorage.getItem("page") === "dark"; } catch { return false; } };
  const show = (dark) => {
    if (dark) root.dataset.theme = "dark"; else delete root.dataset.theme;
    for (const button of document.querySelectorAll("[data-dusk]")) button.setAttribute("aria-pressed", String(dark));
  };
  show(kept());
  document.addEventListener("DOMContentLoaded", () => show(kept()));
  document.addEventListener("click", (event) => {
    if (!event.target.closest("[data-dusk]")) return;
    const dark = root.dataset.theme !== "dark";
    // Storage may be switched off on a borrowed tablet; the page still turns.
    try { localStorage.setItem("page", dark ? "dark" : "light"); } catch { /* only this page turns */ }
    show(dark);
  });
  // The moving carriage may be silenced; the tally and the count stay.
  document.addEventListener("click", (event) => {
    const still = event.target.closest("[data-still]");
    if (!still) return;
    const hush = still.getAttribute("aria-pressed") !== "true";
    for (const each of document.querySelectorAll("[data-still]")) each.setAttribute("aria-pressed", String(hush));
    for (const pace of document.querySelectorAll("[data-pace]")) pace.classList.toggle("hush", hush);
  });
}
