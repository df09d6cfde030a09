// Begins: what needs scripts is shown, the clock goes, and the screen is kept awake where the browser lets it.
(() => {
  "use strict";
  const { $, say, put, keep, show } = sheet;

  // Browsers give the screen free when the page is out of sight, so it is asked for again.
  sheet.stayAwake = async () => {
    try {
      const lock = await navigator.wakeLock.request("screen");
      put("awake", say("awake"));
      lock.addEventListener("release", () => put("awake", say("not_awake")));
    } catch {
      put("awake", say("not_awake"));
    }
  };
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") {
      sheet.stayAwake();
      show();
    }
  });

  // On paper the card comes last: it is cut off, and stays with the piece.
  const [cut, card, rest] = ["cut", "card", "rest"].map($);
  const home = card && document.createComment("");
  if (card && rest) {
    card.after(home);
    window.addEventListener("beforeprint", () => rest.after(cut, card));
    window.addEventListener("afterprint", () => home.before(cut, card));
  }

  document.querySelectorAll(".scripted:not(#no-solid)").forEach((part) => (part.hidden = false));
  keep();
  show();
  sheet.stayAwake();
  setInterval(show, 1000);
})();
