"use strict";
// Finds rows by any words of theirs, and by level; without script the whole table stands.
const finder = document.querySelector(".finder");
if (finder) {
  finder.hidden = false;
  const text = finder.querySelector("input[type=search]");
  const levels = [...finder.querySelectorAll("[data-level]")];
  const rows = [...document.querySelectorAll("[data-row]")].map((row) => {
    const block = row.closest("[data-block]");
    const head = block ? block.querySelector("h2").textContent : "";
    return { row, block, words: `${head} ${row.textContent}`.toLowerCase() };
  });
  const status = finder.querySelector("[role=status]");
  const look = () => {
    const wanted = text.value.toLowerCase().split(/\s+/).filter(Boolean);
    const marked = levels.filter((one) => one.checked).map((one) => one.dataset.level);
    const shown = new Set();
    let count = 0;
    for (const { row, block, words } of rows) {
      const fits = wanted.every((one) => words.includes(one)) && (!marked.length || marked.includes(row.dataset.is));
      row.hidden = !fits;
      if (fits) { count += 1; shown.add(block); }
    }
    for (const block of document.querySelectorAll("[data-block]")) block.hidden = !shown.has(block);
    status.textContent = wanted.length || marked.length ? `${count} of ${rows.length} rows` : "";
  };
  finder.addEventListener("input", look);
  look();
}
