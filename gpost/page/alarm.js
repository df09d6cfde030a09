// How it calls: the colour of the panel and of the page's edge, the title, and the phone's shaking where there is any.
(() => {
  "use strict";
  const { $ } = sheet;
  const EACH_MS = 60000; // it calls again while nobody comes
  const SHAKES = { due: [500, 200, 500], late: [1000, 200, 1000, 200, 1000] };
  const title = document.title;
  let before = null;
  let called = 0;

  // A browser refuses to shake, with a word on its console, until the page has been touched.
  const shake = (pattern) => {
    if (navigator.vibrate && navigator.userActivation?.hasBeenActive) navigator.vibrate(pattern);
  };
  const writing = () => document.activeElement?.matches("[data-field]");

  sheet.toNow = () => {
    const { top } = $("now").getBoundingClientRect();
    if (top < 0 || top > window.innerHeight / 3) $("now").scrollIntoView();
  };

  // how: "" before its time, "due" when it waits, "late" when it has waited too long
  sheet.call = (how, words) => {
    const now = Date.now();
    document.title = words ? `${words} · ${title}` : title;
    document.body.dataset.call = how;
    if (!how) before && shake(0);
    else if (how !== before || now - called >= EACH_MS) {
      called = now;
      shake(SHAKES[how]);
    }
    if (how && how !== before && !writing()) sheet.toNow();
    before = how;
  };
})();
