// The clock, the list of waits, the ticks: what is pressed is kept in the browser, where it lets us.
(() => {
  "use strict";
  const $ = (id) => document.getElementById(id);
  const data = JSON.parse($("data").textContent);
  const fill = (text, values) => text.replace(/\{(\w+)\}/g, (_, name) => String(values[name]));
  const say = (key, values = {}) => fill(data.words[key], values);

  // pressed: [time in ms, index of the wait that ended; -1 the start] in the order of pressing
  let state = { pressed: [], ticks: {} };
  let kept = true;
  try {
    state = { ...state, ...JSON.parse(localStorage.getItem(data.key) || "{}") };
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
    $("kept").textContent = say(kept ? "kept" : "not_kept");
  };
  const put = (id, text) => {
    if ($(id).textContent !== text) $(id).textContent = text;
  };

  document.querySelectorAll("[data-tick]").forEach((box) => {
    box.checked = state.ticks[box.dataset.tick] === true;
    box.addEventListener("change", () => {
      state.ticks[box.dataset.tick] = box.checked;
      keep();
    });
  });

  // Browsers give the screen free when the page is out of sight, so it is asked for again.
  const stayAwake = async () => {
    try {
      const lock = await navigator.wakeLock.request("screen");
      put("awake", say("awake"));
      lock.addEventListener("release", () => put("awake", say("not_awake")));
    } catch {
      put("awake", say("not_awake"));
    }
  };

  // --- the clock: of a job, or of a day ---------------------------------------------------------------------
  const clockwork = () => {
    const ends = [...data.visits, { clock_s: data.total_s, what: say("end"), more: "" }];
    const items = [...$("visits").children];
    const planned = items.map((item) => item.querySelector(".when").textContent);

    // When each wait begins, ms: counted from the last press, and never before now what is still waited for.
    const times = (now) => {
      const last = state.pressed[state.pressed.length - 1];
      if (!last) return null;
      const [since, done] = last;
      // a day's plan has the waits in it, and what is pressed is their end
      const from_s = done < 0 ? data.begins_s : ends[done].clock_s + (ends[done].lasts_s ?? 0);
      const next = ends[done + 1];
      const due = since + (next.clock_s + (next.lasts_s ?? 0) - from_s) * 1000;
      const late = done + 1 < ends.length - 1 ? Math.max(0, now - due) : 0;
      return ends.map((end, index) => since + (end.clock_s - from_s) * 1000 + (index > done + 1 ? late : 0));
    };

    const daytime = (ms) => {
      const date = new Date(ms);
      return `${date.getHours()}:${String(date.getMinutes()).padStart(2, "0")}`;
    };
    const span = (ms) => {
      const seconds = Math.floor(Math.abs(ms) / 1000);
      const [hours, minutes] = [Math.floor(seconds / 3600), Math.floor(seconds / 60) % 60];
      const tail = `${String(minutes).padStart(hours ? 2 : 1, "0")}:${String(seconds % 60).padStart(2, "0")}`;
      return hours ? `${hours}:${tail}` : tail;
    };

    const show = () => {
      const now = Date.now();
      const at = times(now);
      const done = at ? state.pressed[state.pressed.length - 1][1] : -1;
      const next = done + 1;
      const over = at !== null && next === ends.length - 1;
      $("start").hidden = at !== null;
      $("done").hidden = at === null || over;
      $("undo").hidden = $("again").hidden = at === null;
      if (at === null) {
        put("next", say("press_start"));
        put("next-more", "");
        put("countdown", "");
      } else {
        const left = at[next] - now;
        const words = left > 0 ? "next" : over ? "finished" : "due";
        put("next", say(words, { what: ends[next].what }));
        put("next-more", ends[next].more);
        put("countdown", over && left <= 0 ? "" : say(left > 0 ? "in" : "since", { time: span(left) }));
      }
      items.forEach((item, index) => {
        const when = item.querySelector(".when");
        const past = at !== null && index <= done;
        item.classList.toggle("past", past);
        item.classList.toggle("next", at !== null && index === next);
        if (at === null) when.textContent = planned[index];
        else if (!past) when.textContent = say("at", { time: daytime(at[index]) });
        else {
          const pressed = state.pressed.find(([, which]) => which === index);
          when.textContent = say("past", { time: daytime(pressed[0]) });
        }
      });
    };

    const press = () => {
      const last = state.pressed[state.pressed.length - 1];
      state.pressed.push([Date.now(), last ? last[1] + 1 : -1]);
      keep();
      show();
      stayAwake();
      // the button that was pressed may be gone: the next one takes its place
      if (document.activeElement === document.body || document.activeElement.hidden) {
        ($("done").hidden ? $("undo") : $("done")).focus();
      }
    };
    $("start").addEventListener("click", press);
    $("done").addEventListener("click", press);
    $("undo").addEventListener("click", () => {
      state.pressed.pop();
      keep();
      show();
      if ($("undo").hidden) $("start").focus();
    });
    let asked = 0;
    const again = $("again").textContent;
    $("again").addEventListener("click", () => {
      if (Date.now() - asked > 5000) {
        asked = Date.now();
        $("again").textContent = say("sure");
        setTimeout(() => ($("again").textContent = again), 5000);
        return;
      }
      asked = 0;
      $("again").textContent = again;
      state = { pressed: [], ticks: {} };
      document.querySelectorAll("[data-tick]").forEach((box) => (box.checked = false));
      keep();
      show();
      $("start").focus();
    });
    return show;
  };

  const show = $("start") ? clockwork() : () => {};
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") {
      stayAwake();
      show();
    }
  });

  document.querySelectorAll(".scripted:not(#no-solid)").forEach((part) => (part.hidden = false));
  keep();
  show();
  stayAwake();
  setInterval(show, 1000);
})();
