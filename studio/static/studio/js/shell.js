"use strict";
// A form goes once: a second tap within 400 ms, or while the first is on its way, is the same tap.
const hold = (form, held) => {
  if (held) form.setAttribute("aria-busy", "true"); else form.removeAttribute("aria-busy");
  for (const button of form.querySelectorAll("button:not([type=button])")) {
    if (held) button.setAttribute("aria-disabled", "true"); else button.removeAttribute("aria-disabled");
  }
};
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.getAttribute("aria-busy") === "true") {
    event.preventDefault();
    event.stopImmediatePropagation();
    return;
  }
  hold(form, true);
  // Longer than any answer: a download, or a script that took the form over, leaves the page where it is.
  setTimeout(() => { setTimeout(() => hold(form, false), event.defaultPrevented ? 400 : 8000); });
}, true);
addEventListener("pageshow", () => { for (const form of document.forms) hold(form, false); });

// What a form refused is read first.
document.querySelector("[data-errors]")?.focus();

// Undo stands for eight seconds, longer while a hand is on it.
const passing = (root) => {
  for (const message of root.querySelectorAll("[data-passes]")) {
    message.removeAttribute("data-passes");
    const undo = message.querySelector("form");
    const leave = () => { if (undo.matches(":hover, :focus-within")) setTimeout(leave, 2000); else undo.remove(); };
    setTimeout(leave, 8000);
  }
};
passing(document);

// An open menu closes on Escape and on a tap elsewhere; a slip is put back where it came from.
const shut = (menu) => { menu.open = false; menu.querySelector("summary").focus(); };
let opener = null;
document.addEventListener("keydown", (event) => {
  if (event.key !== "Escape") return;
  const menu = document.querySelector("details.menu[open]");
  if (menu) shut(menu); else document.querySelector(".slip [data-close]")?.click();
});
document.addEventListener("click", (event) => {
  for (const menu of document.querySelectorAll("details.menu[open]")) if (!menu.contains(event.target)) menu.open = false;
  const close = event.target.closest("[data-close]");
  if (close) {
    event.preventDefault();
    close.closest(".slip")?.remove();
    // A refresh may have drawn its place anew meanwhile.
    (opener?.isConnected ? opener : document.getElementById(opener?.id))?.focus();
  } else opener = event.target.closest("[hx-get]") ?? opener;
});

// htmx: the token goes along, the answer frees its form, and a failure is said instead of swallowed.
const say = (words) => {
  const line = document.createElement("div");
  line.className = "message is-error";
  line.append(Object.assign(document.createElement("p"), { textContent: words }));
  document.getElementById("messages")?.replaceChildren(line);
};
document.addEventListener("htmx:configRequest", (event) => {
  const token = document.querySelector('meta[name="csrf-token"]')?.content;
  if (token && event.detail.verb !== "get") event.detail.headers["X-CSRFToken"] = token;
});
document.addEventListener("htmx:afterRequest", (event) => {
  const form = event.detail.elt.closest("form");
  if (form) setTimeout(() => hold(form, false), 400);
});
document.addEventListener("htmx:afterSettle", () => passing(document));
document.addEventListener("htmx:sendError", () => say("That did not reach the studio, so nothing was changed. Try it again."));
document.addEventListener("htmx:responseError", (event) => {
  const status = event.detail.xhr.status;
  say(status === 403 ? "That is not open to you. If you were away for long, sign in again."
    : status === 404 ? "That is no longer there. Open the page again to see what is."
      : "The studio could not answer. Look at the page again before you repeat it.");
});
