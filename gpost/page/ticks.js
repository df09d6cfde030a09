// Ticks, and what is written into the card: as they were left; how many are open; folded parts.
(() => {
  "use strict";
  const { $, say, put, state, keep } = sheet;
  const boxes = [...document.querySelectorAll("[data-tick]")];
  const fields = [...document.querySelectorAll("[data-field]")];
  const before = boxes.filter((box) => box.closest("#before"));

  sheet.unticked = () => before.filter((box) => !box.checked).length;
  sheet.before = before.length;
  const show = () => {
    boxes.forEach((box) => (box.checked = state.ticks[box.dataset.tick] === true));
    fields.forEach((field) => (field.value = state.fields[field.dataset.field] ?? ""));
    put("before-count", say("ticked", { count: before.length - sheet.unticked(), all: before.length }));
  };
  boxes.forEach((box) =>
    box.addEventListener("change", () => {
      state.ticks[box.dataset.tick] = box.checked;
      keep();
      show();
      document.dispatchEvent(new Event("ticked"));
    }),
  );
  fields.forEach((field) =>
    field.addEventListener("input", () => {
      state.fields[field.dataset.field] = field.value;
      keep();
    }),
  );
  document.addEventListener("forgotten", show);
  show();

  // a part is folded by a class, so that paper has it all the same
  sheet.fold = (part, folded) => {
    part.classList.toggle("folded", folded);
    part.querySelector(".fold").setAttribute("aria-expanded", String(!folded));
  };
  document.querySelectorAll(".fold").forEach((button) =>
    button.addEventListener("click", () => {
      const part = button.closest("section");
      sheet.fold(part, !part.classList.contains("folded"));
    }),
  );
})();
