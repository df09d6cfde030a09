// The piece in hand: it is turned, built up and coloured, in pictures no finer than the machine can follow.
(async () => {
  "use strict";
  const $ = (id) => document.getElementById(id);
  const data = JSON.parse($("data").textContent);
  const piece = data.solid;
  if (!piece) return;
  const canvas = $("canvas");
  const gl = canvas.getContext("webgl2", { antialias: true, powerPreference: "low-power" });
  let solid = null;
  try {
    solid = gl && (await solidIn(gl, piece, $("wall").textContent));
  } catch {
    // it is said below
  }
  $("no-solid").hidden = Boolean(solid);
  if (!solid) return;
  $("solid").hidden = false;
  $("still").hidden = true;

  // --- colours --------------------------------------------------------------------------------------------
  const SCALE = [[38, 52, 110], [58, 130, 150], [245, 214, 96]]; // dark to light, also for the colour-blind
  const scaled = (part) => {
    const place = Math.min(Math.max(part, 0), 1) * (SCALE.length - 1);
    const low = Math.min(Math.floor(place), SCALE.length - 2);
    return SCALE[low].map((value, k) => value + (SCALE[low + 1][k] - value) * (place - low));
  };
  const rgb = (hex) => [1, 3, 5].map((at) => parseInt(hex.slice(at, at + 2), 16));
  const coloursOf = (way) => {
    if (way.colours) return way.colours.map(rgb);
    const [least, most] = [Math.min(...way.values), Math.max(...way.values)];
    return way.values.map((value) => scaled(most > least ? (value - least) / (most - least) : 0.5));
  };
  const legendOf = (way) => {
    if (way.colours) return way.legend.map(([text, colour]) => [text, colour]);
    const [least, most] = [Math.min(...way.values), Math.max(...way.values)];
    const parts = most > least ? [0, 0.25, 0.5, 0.75, 1] : [0.5];
    return parts.map((part) => {
      const value = most > least ? least + part * (most - least) : least;
      return [`${value.toFixed(way.decimals)} ${way.unit}`, `rgb(${scaled(part).map(Math.round).join()})`];
    });
  };

  // --- pictures -------------------------------------------------------------------------------------------
  // A new one is begun when the one before has been drawn, so none queue up. While the piece is turned it has as
  // many points, and then as fine a grid, as the pictures before could have in time; while it stands it has more.
  const TURNED_MS = 70;
  const RESTING_MS = 400;
  const [FEWEST, MOST] = [3000, 150000];
  const { box, middle, size } = solid;
  const WHOLE = { turn: -0.6, tilt: 0.3, far: size * 1.75 };
  const look = { ...WHOLE };
  // The eye stays out of the wall: off the upright ellipsoid through the corners of its box.
  const nearest = () => {
    const [broad, deep, high] = middle.map((_, k) => (box[1][k] - box[0][k]) / 2);
    const aside = Math.hypot(broad, deep) * Math.SQRT2;
    return 1.1 * Math.hypot(aside * Math.cos(look.tilt), high * Math.SQRT2 * Math.sin(look.tilt));
  };
  const moving = { most: 25000, strips: 2, grain: 1 };
  const resting = { most: MOST, strips: 4, grain: 1 };
  const whole = { most: Infinity, strips: 2, grain: 1 };
  let points = 0; // of the drawing that was used last
  let shown = piece.points;
  let turned = false;
  let asked = false;
  let fence = null;
  let since = 0;
  let rest = 0;

  const labels = [
    ...piece.marks,
    { text: data.words.front, at: [middle[0], box[0][1] - 8, box[0][2]] },
    ...piece.pauses.map((pause) => ({ text: pause.text, at: [box[1][0] + 6, middle[1], pause.at_mm] })),
  ].map((mark) => {
    const label = document.createElement("span");
    label.textContent = mark.text;
    $("labels").append(label);
    return { label, at: mark.at };
  });
  // A label that would lie over another one, or out of sight, is left out.
  const placeLabels = (view, wide, high) => {
    const taken = [];
    for (const { label, at } of labels) {
      const p = [0, 1, 3].map((r) => view[r] * at[0] + view[4 + r] * at[1] + view[8 + r] * at[2] + view[12 + r]);
      const [x, y] = [((p[0] / p[2] + 1) / 2) * wide, ((1 - p[1] / p[2]) / 2) * high];
      const broad = label.offsetWidth;
      const left = Math.min(Math.max(x, 0), wide - broad);
      const clear = ([tx, ty, tw]) => Math.abs(ty - y) > 28 || left > tx + tw || left + broad < tx;
      const free = p[2] > 0 && y > 0 && y < high - 28 && taken.every(clear);
      label.style.visibility = free ? "visible" : "hidden";
      label.style.transform = `translate(${left}px, ${y}px)`;
      if (free) taken.push([left, y, broad]);
    }
  };
  const draw = () => {
    const [wide, high] = [canvas.clientWidth, canvas.clientHeight];
    if (!wide || !high) return;
    const near = look.far <= size && resting.most === MOST;
    const fine = turned ? moving : near ? whole : resting;
    const scale = Math.min(window.devicePixelRatio || 1, 2) * fine.grain;
    const [w, h] = [Math.round(wide * scale), Math.round(high * scale)];
    if (canvas.width !== w || canvas.height !== h) [canvas.width, canvas.height] = [w, h];
    const { view, drawn, of } = solid.frame(look, { shown, ...fine }, wide, high);
    canvas.dataset.drawn = String(drawn);
    canvas.dataset.far = look.far.toFixed(1);
    points = of;
    placeLabels(view, wide, high);
    since = performance.now();
    fence = gl.fenceSync(gl.SYNC_GPU_COMMANDS_COMPLETE, 0);
    gl.flush();
  };
  const budget = (took_ms) => {
    const share = TURNED_MS / Math.max(took_ms, 1);
    if (share < 0.8 && moving.most > FEWEST) moving.most = Math.max(points * share, FEWEST);
    else if (share < 0.8) moving.grain = Math.max(moving.grain * 0.7, 0.5);
    else if (share > 2.5 && moving.grain < 1) moving.grain = Math.min(moving.grain / 0.7, 1);
    else if (share > 2.5) moving.most = Math.min(Math.max(moving.most, points * 2.1), MOST);
    resting.most = Math.min(Math.max((points * RESTING_MS) / took_ms, 8 * FEWEST), MOST);
  };
  const settle = (took_ms) => {
    canvas.dataset.took = took_ms.toFixed(1);
    canvas.dataset.ready = "yes";
    if (turned) budget(took_ms);
    if (!turned || asked) return;
    clearTimeout(rest);
    rest = setTimeout(() => {
      turned = false;
      redraw();
    }, 250);
  };
  const step = () => {
    if (fence && gl.getSyncParameter(fence, gl.SYNC_STATUS) !== gl.SIGNALED && !gl.isContextLost()) {
      requestAnimationFrame(step);
      return;
    }
    if (fence) {
      settle(performance.now() - since);
      gl.deleteSync(fence);
      fence = null;
    }
    if (asked) draw();
    asked = false;
    if (fence) requestAnimationFrame(step);
    else waiting = false;
  };
  let waiting = false;
  const redraw = () => {
    asked = true;
    if (!waiting) requestAnimationFrame(step);
    waiting = true;
  };
  const moved = () => {
    turned = true;
    clearTimeout(rest);
    redraw();
  };
  const turn = (by, up) => {
    look.turn += by;
    look.tilt = Math.min(Math.max(look.tilt + up, -0.3), 1.5);
    look.far = Math.max(look.far, nearest());
    moved();
  };
  const zoom = (by) => {
    look.far = Math.min(Math.max(look.far * by, nearest()), size * 5 + 300);
    moved();
  };

  // --- hands: fingers, mouse, keys, buttons -------------------------------------------------------------
  let held = null;
  canvas.addEventListener("pointerdown", (event) => {
    held = [event.clientX, event.clientY];
    canvas.setPointerCapture(event.pointerId);
  });
  canvas.addEventListener("pointermove", (event) => {
    if (!held) return;
    turn((held[0] - event.clientX) * 0.008, (event.clientY - held[1]) * 0.008);
    held = [event.clientX, event.clientY];
  });
  for (const name of ["pointerup", "pointercancel"]) canvas.addEventListener(name, () => (held = null));
  canvas.addEventListener("wheel", (event) => {
    if (!event.ctrlKey && document.activeElement !== canvas) return; // else the page could not be scrolled
    event.preventDefault();
    zoom(event.deltaY > 0 ? 1.1 : 0.9);
  }, { passive: false });
  const KEYS = {
    ArrowLeft: () => turn(-0.15, 0),
    ArrowRight: () => turn(0.15, 0),
    ArrowUp: () => turn(0, 0.12),
    ArrowDown: () => turn(0, -0.12),
    "+": () => zoom(0.85),
    "=": () => zoom(0.85),
    "-": () => zoom(1.18),
  };
  canvas.addEventListener("keydown", (event) => {
    const act = KEYS[event.key];
    if (!act) return;
    event.preventDefault();
    act();
  });
  document.querySelectorAll("[data-turn]").forEach((button) => {
    button.addEventListener("click", () => turn(...button.dataset.turn.split(" ").map(Number)));
  });
  document.querySelectorAll("[data-zoom]").forEach((button) => {
    button.addEventListener("click", () => zoom(Number(button.dataset.zoom)));
  });

  $("whole").addEventListener("click", () => {
    Object.assign(look, WHOLE);
    $("slider").value = $("slider").max;
    slide();
  });

  // --- the slider ---------------------------------------------------------------------------------------
  const rows = piece.layer.length;
  const slide = () => {
    const value = Number($("slider").value) / 1000;
    let row = Math.min(Math.ceil(value * rows), rows);
    let share = 1;
    if ($("by-clock").checked) {
      const clock_s = value === 1 ? Infinity : value * piece.clock_s[rows - 1];
      row = piece.clock_s.filter((done) => done < clock_s).length + 1;
      const from = row > 1 ? piece.clock_s[row - 2] : 0;
      share = row > rows ? 1 : (clock_s - from) / Math.max(piece.clock_s[row - 1] - from, 1e-9);
      row = Math.min(row, rows);
    }
    const start = row > 0 ? piece.starts[row - 1] : 0;
    const end = row < rows ? piece.starts[row] : piece.points;
    shown = row > 0 ? Math.round(start + (end - start) * share) : 0;
    const at = Math.max(row - 1, 0);
    const from_s = at ? piece.clock_s[at - 1] : 0;
    const seconds = row > 0 ? from_s + (piece.clock_s[at] - from_s) * share : 0;
    const minutes = Math.round(seconds / 60);
    const said = {
      layer: row > 0 ? piece.layer[at] : 0,
      layers: piece.layer[rows - 1],
      height: row > 0 ? piece.height_mm[at].toFixed(1) : 0,
      time: `${Math.floor(minutes / 60)}:${String(minutes % 60).padStart(2, "0")}`,
    };
    const text = sheet.say(shown > 0 ? "built" : "not_begun", said);
    $("built").textContent = text;
    $("slider").setAttribute("aria-valuetext", text);
    canvas.dataset.shown = String(shown);
    moved();
  };
  $("slider").addEventListener("input", slide);
  $("by-clock").addEventListener("change", slide);

  // --- colours by hand --------------------------------------------------------------------------------------
  const choose = (way, button) => {
    solid.recolour(Uint8Array.from(coloursOf(way).flatMap((one) => [...one, 255])));
    for (const other of $("colourings").children) other.setAttribute("aria-pressed", String(other === button));
    $("legend").replaceChildren(
      ...legendOf(way).map(([text, colour]) => {
        const item = document.createElement("li");
        const chip = document.createElement("i");
        chip.style.background = colour;
        item.append(chip, text);
        return item;
      }),
    );
    redraw();
  };
  for (const way of piece.colourings) {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = way.name;
    button.addEventListener("click", () => choose(way, button));
    $("colourings").append(button);
  }
  choose(piece.colourings[0], $("colourings").firstChild);
  slide();
  new ResizeObserver(redraw).observe(canvas);
  // without a picture in space the still one comes back
  canvas.addEventListener("webglcontextlost", () => {
    $("solid").hidden = true;
    $("still").hidden = false;
    $("no-solid").hidden = false;
  });
})();
