// What the other scripts share: the page's words and data, and what is pressed and written, which is kept in the browser.
const sheet = (() => {
  "use strict";
  const $ = (id) => document.getElementById(id);
  const data = JSON.parse($("data").textContent);
  // values stand by themselves where words go from right to left, as Python has it
  const [isolate, isolated] = document.documentElement.dir === "rtl" ? ["\u200f\u2068", "\u2069\u200f"] : ["", ""];
  // a number is never torn from its unit
  const UNITS = "ml|mm|mm²|mm³|cm|m|l|g|kg|s|min|h|%|°|°C|percent|Pa|kPa|bar|N|W|V|Hz|kB|MB|GB|KiB|MiB|GiB|times?|seconds?|minutes?|hours?|days?";
  const AMOUNT = new RegExp(`(\\d[\\u200f\\u2069]*) (?=(?:${UNITS})(?![\\p{L}\\p{N}_]))`, "gu");
  const fill = (text, values) =>
    text.replace(/\{(\w+)\}/g, (_, name) => isolate + values[name] + isolated).replace(AMOUNT, "$1\u00a0");
  // what counts stands there twice, as ..._one and ..._many
  const counted = (key, { count }) => data.words[`${key}_${count === 1 ? "one" : "many"}`];
  const say = (key, values = {}) => fill(data.words[key] ?? counted(key, values), values);
  // a text, or its parts with the language of each; "" is the page's
  const nodes = (said) =>
    (typeof said === "string" ? [[said, ""]] : said).map(([text, lang]) =>
      lang ? Object.assign(document.createElement("span"), { lang, textContent: text }) : text,
    );
  const fillIn = (element, said) => {
    const text = typeof said === "string" ? said : said.map(([part]) => part).join("");
    if (element.textContent !== text) element.replaceChildren(...nodes(said));
    return element;
  };
  const put = (id, said) => {
    if ($(id)) fillIn($(id), said);
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

  return { $, data, say, put, fillIn, state, keep, forget, asks, meant };
})();
