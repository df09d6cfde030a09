// The list of pieces: which comes next, and a folder that is watched shows itself anew.
(() => {
  "use strict";
  const $ = (id) => document.getElementById(id);
  const data = JSON.parse($("data").textContent);
  const pieces = [...document.querySelectorAll("[data-piece]")];

  const next = () => {
    if (!$("next-piece")) return; // a day goes by its clock
    const open = pieces.find((piece) => !piece.querySelector("[data-tick]")?.checked);
    const text = open
      ? sheet.say("next_piece", { piece: open.dataset.piece })
      : sheet.say(pieces.length ? "all_printed" : "no_piece");
    if ($("next-piece").textContent !== text) $("next-piece").textContent = text;
    $("next-load").textContent = open?.querySelector(".first")?.textContent ?? "";
    pieces.forEach((piece) => piece.classList.toggle("next", piece === open));
  };
  document.querySelectorAll("[data-tick]").forEach((box) => box.addEventListener("change", next));
  next();

  // What is where and what has the focus stays as it was: whoever reads or works by keys loses nothing.
  const live = $("live");
  if (!live) return;
  const mark = (one) => one.id || one.dataset.tick || one.getAttribute("href") || "";
  let before = {};
  try {
    before = JSON.parse(sessionStorage.getItem(data.key) || "{}");
  } catch {
    // nothing is kept: it begins as it is written
  }
  live.checked = before.live !== false;
  if (before.focus) {
    const focus = [...document.querySelectorAll("a, input, summary")].find((one) => mark(one) === before.focus);
    focus?.focus({ preventScroll: true });
  }
  const keep = () => {
    try {
      const focus = mark(document.activeElement);
      sessionStorage.setItem(data.key, JSON.stringify({ live: live.checked, focus }));
    } catch {
      // as above
    }
  };
  live.addEventListener("change", keep);
  setInterval(() => {
    const unfolded = document.querySelector("details[open]"); // it would fold again under the reader's eyes
    if (!live.checked || document.hidden || unfolded) return;
    keep();
    location.reload();
  }, data.each_s * 1000);
})();
