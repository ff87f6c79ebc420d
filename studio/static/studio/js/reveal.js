"use strict";
// A password may be looked at while it is typed; without script the button stays away.
for (const button of document.querySelectorAll("[data-reveal]")) {
  const field = document.getElementById(button.dataset.reveal);
  if (!field) continue;
  button.hidden = false;
  button.addEventListener("click", () => {
    const show = field.type === "password";
    field.type = show ? "text" : "password";
    button.setAttribute("aria-pressed", String(show));
    field.focus();
  });
}
