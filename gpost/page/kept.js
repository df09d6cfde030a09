// What the other scripts share: the page's words and data, and what is pressed and written, which is kept in the browser.
const sheet = (() => {
  "use strict";
  const $ = (id) => document.getElementById(id);
  const data = JSON.parse($("data").textContent);
  const fill = (text, values) => text.replace(/\{(\w+)\}/g, (_, name) => String(values[name]));
  const say = (key, values = {}) => fill(data.words[key], values);
  const put = (id, text) => {
    if ($(id) && $(id).textContent !== text) $(id).textContent = text;
  };

  // pressed: [time in ms, index of the wait that ended; -1 the start] in the order of pressing
  const NOTHING = { pressed: [], ticks: {}, fields: {} };
  const state = structuredClone(NOTHING);
  let kept = true;
  try {
    Object.assign(state, JSON.parse(localStorage.getItem(data.key) || "{}"));
    localStorage.setItem(data.key, JSON.stringify(state));
  } catch {
    kept = false;
  }
  const keep = () => {
    try {
      localStorage.setItem(data.key, JSON.stringify(state));
    } catch {
      kept = false;
    }
    put("kept", say(kept ? "kept" : "not_kept"));
  };
  const forget = () => Object.assign(state, structuredClone(NOTHING));

  // A button that does nothing at the first press but ask; the second one within this time is meant.
  const ASKS_MS = 5000;
  const asked = { id: "", at: 0 };
  const asks = (id) => asked.id === id && Date.now() - asked.at < ASKS_MS;
  const meant = (id) => {
    const sure = asks(id);
    Object.assign(asked, { id: sure ? "" : id, at: Date.now() });
    return sure;
  };

  return { $, data, say, put, state, keep, forget, asks, meant };
})();
