"use strict";
// The builder without waiting: taps are sent one after another, each from the draft as the one before left it.
{
  const root = document.getElementById("builder");
  const form = () => document.getElementById("deed");
  const waiting = [];
  let busy = false;

  const send = (values, address) => { waiting.push([values, address]); next(); };
  const next = () => {
    if (busy || !waiting.length || !form()) return;
    const [values, address] = waiting.shift();
    busy = true;
    root.classList.add("b-busy");
    const done = () => { busy = false; root.classList.remove("b-busy"); next(); };
    htmx.ajax("POST", address || form().getAttribute("action"), {
      source: root, target: root, swap: "innerHTML",
      values: { ...values, revision: values.again ? values.revision : form().elements.revision.value },
    }).then(done, done);
  };

  // What was typed and not kept yet outlives the answer, and so does the place on the shelf.
  let held = null;
  const typed = (field) => field.id && field.type !== "hidden" && (field.tagName === "SELECT"
    ? field.id === "before" && field.value !== "" : field.value !== field.defaultValue);
  root.addEventListener("htmx:beforeSwap", (event) => {
    if (event.detail.target !== root) return;
    held = {
      shelf: document.getElementById("shelf")?.scrollTop ?? 0,
      fields: [...root.querySelectorAll("input, textarea, select")].filter(typed).map((one) => [one.id, one.value]),
    };
  });
  document.addEventListener("htmx:afterSwap", (event) => { if (event.detail.target === root) settle(); });

  const settle = () => {
    root.classList.add("b-live");
    for (const [id, value] of held?.fields ?? []) { const one = document.getElementById(id); if (one) one.value = value; }
    const shelf = document.getElementById("shelf");
    if (shelf && held) shelf.scrollTop = held.shelf;
    held = null;
    const keys = (root.querySelector("[data-touched]")?.dataset.touched ?? "").split(" ").filter(Boolean);
    for (const key of keys) document.getElementById(`line-${key}`)?.classList.add("touched");
    const refused = root.querySelector(".b-refused");
    if (refused) { waiting.length = 0; refused.focus({ preventScroll: false }); return; }
    const opened = root.querySelector(".b-line.open");
    const line = document.getElementById(`line-${keys[0]}`) ?? (opened?.id === before ? null : opened);
    before = opened?.id;
    if (line && !inSight(line)) line.scrollIntoView({ block: "nearest" });
  };
  let before = root.querySelector(".b-line.open")?.id;
  const inSight = (line) => {
    const box = line.getBoundingClientRect();
    const top = root.querySelector(".b-top").getBoundingClientRect().bottom;
    const side = root.querySelector(".b-side").getBoundingClientRect();
    return box.top >= top && box.bottom <= (side.left < box.right ? Math.min(side.top, innerHeight) : innerHeight);
  };

  // What the shelf shows goes along with every request, so that a search outlives what is put in from it.
  const withShelf = (path) => {
    const shown = ["q", "kind"].map((id) => document.getElementById(id)).filter(Boolean);
    if (!shown.length) return path;
    const [bare, query] = path.split("?");
    const asked = new URLSearchParams(query);
    for (const one of shown) if (one.value) asked.set(one.id, one.value); else asked.delete(one.id);
    return `${bare}?${asked}`;
  };
  document.addEventListener("htmx:configRequest", (event) => {
    const from = event.detail.elt;
    if (root.contains(from) && !from.closest("[role=search]")) event.detail.path = withShelf(event.detail.path);
  });

  // --- taps ---
  let carried = 0;
  document.addEventListener("click", (event) => {
    if (event.target.closest("[data-print]")) return print();
    const far = event.target.closest("[data-to]");
    const line = far && document.getElementById(`line-${far.dataset.to}`);
    if (line) { event.preventDefault(); line.scrollIntoView({ block: "center" }); line.querySelector(".b-name a")?.focus(); return; }
    const rail = event.target.closest("[data-rail]");
    if (rail) { event.preventDefault(); if (event.timeStamp - carried > 300) open(rail.dataset.rail); return; }
    const button = event.target.closest('button[form="deed"]');
    if (!button) return;
    event.preventDefault();
    if (event.timeStamp - carried < 300) return;
    const values = { deed: button.value };
    const before = document.getElementById("before");
    if (button.classList.contains("b-put") || button.value.startsWith("series.")) values.before = before?.value ?? "";
    send(values);
  }, true);
  const open = (key) => { document.getElementById(`name-${key}`)?.click(); document.getElementById(`line-${key}`)?.scrollIntoView({ block: "nearest" }); };

  const post = (posted, button) => {
    const values = Object.fromEntries(new FormData(posted, button));
    delete values.csrfmiddlewaretoken;
    if (posted.hasAttribute("data-again")) values.again = "1";
    for (const field of posted.querySelectorAll("input")) field.defaultValue = field.value;
    send(values, posted.getAttribute("action"));
  };
  document.addEventListener("submit", (event) => {
    const posted = event.target.closest("[data-live], [data-post], [data-again]");
    if (!posted) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    post(posted, event.submitter);
  }, true);
  document.addEventListener("change", (event) => {
    const posted = event.target.closest("[data-live]");
    if (posted) post(posted);
  });

  // Whoever comes back to the page sees what another teacher did meanwhile.
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState !== "visible" || busy || waiting.length || !form()) return;
    htmx.ajax("GET", withShelf(form().dataset.page + location.search), { source: root, target: root, swap: "innerHTML" });
  });

  // --- the rail and the lines point at each other ---
  const point = (key, on) => root.querySelector(`[data-rail="${key}"]`)?.classList.toggle("seen", on);
  for (const [name, on] of [["pointerover", true], ["pointerout", false], ["focusin", true], ["focusout", false]])
    root.addEventListener(name, (event) => { const line = event.target.closest?.(".b-line"); if (line) point(line.dataset.key, on); });

  // --- keys ---
  const names = () => [...root.querySelectorAll(".b-name a")];
  const deed = (verb, key) => { send({ deed: `${verb}.${key}` }); };
  const onGrip = (grip, event) => {
    const [kind, key] = grip.dataset.grip.split(".");
    if (!["line", "block"].includes(kind) || !["ArrowUp", "ArrowDown"].includes(event.key)) return false;
    const way = event.key === "ArrowUp" ? "up" : "down";
    deed(kind === "block" || event.shiftKey ? `block_${way}` : way, key);
    return true;
  };
  const SPRINGS = { "+": "more", "=": "more", "-": "fewer", "−": "fewer" };
  const onName = (name, event) => {
    const key = name.closest(".b-line").dataset.key;
    const way = { ArrowUp: "up", ArrowDown: "down" }[event.key];
    if (way && event.altKey) { deed(event.shiftKey ? `block_${way}` : way, key); return true; }
    if (way) { const all = names(); all[all.indexOf(name) + (way === "up" ? -1 : 1)]?.focus(); return true; }
    if (event.key === "Delete") { names()[names().indexOf(name) + 1]?.focus(); deed("out", key); return true; }
    if (SPRINGS[event.key]) { deed(`${SPRINGS[event.key]}_${event.altKey ? "reps" : "springs"}`, key); return true; }
    return false;
  };
  document.addEventListener("keydown", (event) => {
    if (!form()) return;
    const typing = event.target.closest("input, textarea, select");
    if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "z" && !typing) {
      event.preventDefault();
      send({ deed: event.shiftKey ? "redo" : "undo" });
      return;
    }
    if (event.ctrlKey || event.metaKey || typing) return;
    if (event.key === "/") { event.preventDefault(); document.getElementById("q")?.focus(); return; }
    const grip = event.target.closest("[data-grip]"), name = event.target.closest(".b-name a");
    if ((grip && onGrip(grip, event)) || (name && onName(name, event))) event.preventDefault();
  });

  // --- carrying with a finger, a pen or a mouse ---
  let hand = null;
  root.addEventListener("pointerdown", (event) => {
    const grip = event.target.closest("[data-grip]"), rail = event.target.closest("[data-rail]");
    if (!form() || event.button || !(grip || rail)) return;
    const what = grip ? grip.dataset.grip : `line.${rail.dataset.rail}`;
    hand = { what, name: grip?.dataset.name ?? rail.querySelector("title").textContent, rail: !grip, x: event.clientX, y: event.clientY, on: false, id: event.pointerId, from: grip ?? rail };
    if (rail) event.preventDefault();
  });
  const begin = () => {
    hand.on = true;
    getSelection().removeAllRanges();
    document.body.classList.add("b-carrying");
    hand.ghost = Object.assign(document.createElement("div"), { className: "b-ghost", textContent: hand.name });
    hand.bar = Object.assign(document.createElement("div"), { className: "b-bar" });
    document.body.append(hand.ghost);
    const [kind, key] = hand.what.split(".");
    if (kind === "line") document.getElementById(`line-${key}`)?.classList.add("b-carried");
    if (kind === "block") root.querySelector(`.b-block[data-block="${key}"]`)?.classList.add("b-carried");
    if (hand.rail) root.querySelector(".b-touch").classList.add("carrying");
    else root.querySelector(".b-list").append(hand.bar);
  };
  // Where it would go: the line it comes before, 0 for the end. A block keeps out of other blocks.
  const gaps = () => [...root.querySelectorAll(hand.what.startsWith("block.") || hand.what.startsWith("series.") ? ".b-blocks > li" : ".b-line")];
  const keyOf = (item) => item.dataset.key ?? item.dataset.block;
  const overLines = (event) => {
    const list = root.querySelector(".b-list").getBoundingClientRect();
    if (event.clientX < list.left - 40 || event.clientX > list.right + 40) { hand.to = null; hand.bar.hidden = true; return; }
    const items = gaps();
    const after = items.find((item) => { const box = item.getBoundingClientRect(); return event.clientY < box.top + Math.min(box.height, 120) / 2; });
    const edge = after ? after.getBoundingClientRect().top : (items.at(-1)?.getBoundingClientRect().bottom ?? list.top + 60);
    hand.to = after ? keyOf(after) : "0";
    hand.bar.hidden = false;
    hand.bar.style.insetBlockStart = `${edge - list.top}px`;
  };
  const overRail = (event) => {
    const marks = [...root.querySelectorAll("[data-rail]")];
    const frame = root.querySelector(".b-touch").getBoundingClientRect();
    const box = (mark) => mark.querySelector(".hit").getBoundingClientRect();
    const after = marks.find((mark) => event.clientX < box(mark).left + box(mark).width / 2);
    const x = (after ? box(after).left : box(marks.at(-1)).right) - frame.left;
    hand.to = after ? after.dataset.rail : "0";
    const gap = document.getElementById("rail-gap");
    gap.setAttribute("x1", x); gap.setAttribute("x2", x);
  };
  const roll = (event) => {
    const top = root.querySelector(".b-top").getBoundingClientRect().bottom;
    if (event.clientY > innerHeight - 60) scrollBy(0, 14); else if (event.clientY < top + 30 && event.clientY > top - 40) scrollBy(0, -14);
  };
  document.addEventListener("pointermove", (event) => {
    if (!hand || event.pointerId !== hand.id) return;
    if (!hand.on && Math.hypot(event.clientX - hand.x, event.clientY - hand.y) > 6) begin();
    if (!hand.on) return;
    event.preventDefault();
    hand.ghost.style.transform = `translate(${event.clientX + 14}px, ${event.clientY + 10}px)`;
    if (hand.rail) overRail(event); else { roll(event); overLines(event); }
  });
  const drop = (event, keep) => {
    if (!hand || (event.pointerId !== undefined && event.pointerId !== hand.id)) return;
    const { what, to, on, ghost, bar } = hand;
    ghost?.remove(); bar?.remove();
    document.body.classList.remove("b-carrying");
    for (const one of root.querySelectorAll(".b-carried, .carrying")) one.classList.remove("b-carried", "carrying");
    hand = null;
    if (!on) return;
    carried = event.timeStamp;
    if (!keep || to === undefined || to === null) return;
    const [kind, ...rest] = what.split(".");
    if (kind === "line" || kind === "block") send({ deed: `${kind === "line" ? "move" : "block"}.${rest.join(".")}`, to });
    else send({ deed: what, before: to });
  };
  document.addEventListener("pointerup", (event) => drop(event, true));
  document.addEventListener("pointercancel", (event) => drop(event, false));
  document.addEventListener("keydown", (event) => { if (event.key === "Escape" && hand?.on) { event.stopImmediatePropagation(); drop(event, false); } }, true);
  root.addEventListener("dragstart", (event) => event.preventDefault());

  settle();
}
