// The clock of a job, or of a day: what is next, when, how long it may wait; and the list of waits.
(() => {
  "use strict";
  const { $, data, say, put, fillIn, state, keep, forget, asks, meant, fold } = sheet;
  if (!$("start")) {
    sheet.show = () => {};
    return;
  }
  const ends = [...data.visits, { clock_s: data.total_s, what: say("end"), more: [], limits: [] }];
  const LAST = ends.length - 1;
  const items = [...$("visits").children];
  const planned = items.map((item) => item.querySelector(".when").textContent);
  const NEARLY_MS = 60000; // an estimate may be off by so much, or by a tenth
  const labels = Object.fromEntries(["done", "again"].map((id) => [id, $(id).textContent]));

  const last = () => state.pressed[state.pressed.length - 1];
  const since = ([, done]) => (done < 0 ? data.begins_s : ends[done].clock_s + (ends[done].lasts_s ?? 0));

  // When each wait begins, ms: counted from the last press, and never before now what is still waited for.
  const times = (now) => {
    if (!last()) return null;
    const [pressed, done] = last();
    // a day's plan has the waits in it, and what is pressed is their end
    const from_s = since(last());
    const next = ends[done + 1];
    const due = next ? pressed + (next.clock_s + (next.lasts_s ?? 0) - from_s) * 1000 : now;
    const late = done + 1 < LAST ? Math.max(0, now - due) : 0;
    return ends.map((end, index) => pressed + (end.clock_s - from_s) * 1000 + (index > done + 1 ? late : 0));
  };

  const two = (number) => String(number).padStart(2, "0");
  const daytime = (ms) => `${new Date(ms).getHours()}:${two(new Date(ms).getMinutes())}`;
  const hours = (ms) => `${Math.floor(ms / 3600000)}:${two(Math.floor(ms / 60000) % 60)}`;
  const span = (ms) => {
    const seconds = Math.floor(Math.abs(ms) / 1000);
    const [h, m, s] = [Math.floor(seconds / 3600), Math.floor(seconds / 60) % 60, two(seconds % 60)];
    return h ? `${h}:${two(m)}:${s}` : `${m}:${s}`;
  };

  // --- the panel --------------------------------------------------------------------------------------------
  const list = (texts) => {
    const rows = texts.map((text) => fillIn(document.createElement("li"), text));
    const same = rows.map((row) => row.textContent).join("\n") === [...$("next-more").children].map((row) => row.textContent).join("\n");
    if (!same) $("next-more").replaceChildren(...rows);
  };
  const panel = ({ how = "", label, what, count = "", limit = "", more = [], title = "" }) => {
    put("label", label);
    put("next", what);
    put("countdown", count);
    put("limit", limit);
    list(more);
    sheet.call(how, title);
  };

  const waiting = (end, waited) => {
    const left = (limit) => limit.minutes * 60000 - waited;
    const open = end.limits.find((limit) => left(limit) > 0);
    const passed = end.limits.filter((limit) => left(limit) <= 0);
    const most = passed[passed.length - 1];
    // what is left is rounded up, as what has gone is rounded down: together they are the limit
    const rest = open && span(left(open) + 999);
    const waits = say("since", { time: span(waited) });
    const count = most ? say("beyond", { time: span(left(most)) }) : open ? say("left", { time: rest }) : waits;
    const still = open ? [say(most ? "still" : "limit", { ...open, time: rest, waits })] : [];
    return {
      how: most ? "late" : "due",
      label: say(most ? "late" : "due"),
      what: end.what,
      count,
      limit: [...passed.map((limit) => say("too_long", limit)), ...still].join(" "),
      more: end.more,
      title: say("waits", { time: count }),
    };
  };

  const taken = () => {
    const start = state.pressed.find(([, which]) => which < 0)[0];
    const took = hours(last()[0] - start);
    put("took", say("took", { time: took }));
    return { label: say("over"), what: say("off_at", { time: daytime(last()[0]) }), more: [say("took", { time: took })] };
  };

  const now_of = (at, now) => {
    const next = last()[1] + 1;
    if (next > LAST) return taken();
    const left = at[next] - now;
    if (left > 0) {
      const count = say("in", { time: span(left) });
      return { label: say("next"), what: ends[next].what, count, more: ends[next].more, title: count };
    }
    if (next < LAST) return waiting(ends[next], -left);
    return { how: "due", label: say("should_be"), what: say("finished"), title: say("should_be") };
  };

  // --- what is to be seen of the page -----------------------------------------------------------------------
  // Once it prints, what to do now is on top, and what had to be seen to before the start is out of the way.
  const arrange = (running) => {
    if (document.body.classList.contains("running") === running) return;
    document.body.classList.toggle("running", running);
    const [verdict, now, before, visits] = ["verdict", "now", "before", "times"].map($);
    if (running) now.after(verdict);
    else now.before(verdict);
    fold(verdict, running);
    if (!before) return;
    if (running) visits.after(before);
    else visits.before(before);
    fold(before, running);
  };

  const buttons = (at) => {
    const done = at ? last()[1] : -1;
    $("start").hidden = at !== null;
    $("done").hidden = at === null || done === LAST;
    $("undo").hidden = $("again").hidden = at === null;
    put("again", asks("again") ? say("sure") : labels.again);
    const label = done + 1 === LAST ? say("is_off") : labels.done;
    const left = at && done < LAST ? at[done + 1] - Date.now() : 0;
    put("done", asks("done") && left > 0 ? say("early", { time: span(left) }) : label);
    const open = sheet.unticked();
    if (!$("unticked")) return;
    $("unticked").hidden = open === 0 || done >= 0 || document.body.dataset.call !== "";
    put("unticked-count", say(at ? "left_unticked" : "unticked", { count: open, all: sheet.before }));
  };

  const rows = (at) =>
    items.forEach((item, index) => {
      const done = at ? last()[1] : -1;
      const past = at !== null && index <= done;
      item.classList.toggle("past", past);
      item.classList.toggle("next", at !== null && index === done + 1);
      const pressed = past && state.pressed.find(([, which]) => which === index);
      const when = !at ? planned[index] : pressed ? say("past", { time: daytime(pressed[0]) }) : say("at", { time: daytime(at[index]) });
      const place = item.querySelector(".when");
      if (place.textContent !== when) place.textContent = when;
    });

  const show = () => {
    const now = Date.now();
    const at = times(now);
    put("took", "");
    const first = data.first && say("first", { what: data.first });
    panel(at ? now_of(at, now) : { label: first, what: say("press_start") });
    const began = at && state.pressed.find(([, which]) => which < 0)[0];
    put("since", at && last()[1] < LAST ? say("since_start", { time: hours(now - began) }) : "");
    arrange(at !== null);
    buttons(at);
    rows(at);
  };
  sheet.show = show;

  // --- what is pressed --------------------------------------------------------------------------------------
  const press = () => {
    state.pressed.push([Date.now(), last() ? last()[1] + 1 : -1]);
    keep();
    show();
    sheet.stayAwake();
    // not to a button: a second press of the same key would do the next thing unasked
    $("doing").focus({ preventScroll: true });
    sheet.toNow();
  };
  const early = () => {
    const now = Date.now();
    const left = times(now)[last()[1] + 1] - now;
    const whole = left + now - last()[0];
    return left > Math.max(NEARLY_MS, whole / 10);
  };
  $("start").addEventListener("click", press);
  $("done").addEventListener("click", () => {
    if (!early() || meant("done")) press();
    else show();
  });
  $("undo").addEventListener("click", () => {
    state.pressed.pop();
    keep();
    show();
    if ($("undo").hidden) $("start").focus();
  });
  $("again").addEventListener("click", () => {
    if (!meant("again")) return show();
    forget();
    document.dispatchEvent(new Event("forgotten"));
    keep();
    show();
    $("start").focus();
  });
  document.addEventListener("ticked", show);
})();
