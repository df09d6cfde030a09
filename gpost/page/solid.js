// The piece in space: the laid path as lit beads, drawn by WebGL2 from a texture that holds its points.
(() => {
  "use strict";
  const $ = (id) => document.getElementById(id);
  const data = JSON.parse($("data").textContent);
  const piece = data.solid;
  if (!piece) return;
  const WIDTH = 2048; // of the texture of points
  const MOVING = 25000; // so many points while the piece is turned
  const RESTING = 150000; // and while it stands, unless it is looked at from near
  const canvas = $("canvas");
  const gl = canvas.getContext("webgl2", { antialias: true, powerPreference: "low-power" });
  if (!gl || typeof DecompressionStream === "undefined") {
    $("no-solid").hidden = false;
    return;
  }

  // --- the points -----------------------------------------------------------------------------------------
  // Four numbers each: x, y, z in steps, and twice its row, plus one where a bead begins.
  const unpack = async () => {
    const text = atob($("wall").textContent);
    const packed = Uint8Array.from(text, (c) => c.charCodeAt(0));
    const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("deflate"));
    const bytes = new Uint8Array(await new Response(stream).arrayBuffer());
    const n = piece.points;
    const points = new Uint16Array(WIDTH * Math.max(1, Math.ceil(n / WIDTH)) * 4);
    for (let axis = 0; axis < 3; axis++) {
      const low = 2 * axis * n;
      for (let i = 0, sum = 0; i < n; i++) {
        sum = (sum + bytes[low + i] + 256 * bytes[low + n + i]) & 0xffff;
        points[4 * i + axis] = sum;
      }
    }
    for (let i = 0, row = 0; i < n; i++) {
      while (row + 1 < piece.starts.length && i >= piece.starts[row + 1]) row++;
      points[4 * i + 3] = 2 * row + ((bytes[6 * n + (i >> 3)] >> (7 - (i & 7))) & 1);
    }
    return points;
  };
  // Fewer points: every so many, and those where a bead begins or ends.
  const thinned = (points, n, most) => {
    const every = Math.ceil(n / most);
    const which = [];
    for (let i = 0; i < n; i++) {
      if (i % every === 0 || points[4 * i + 3] & 1 || (i + 1 < n && points[4 * i + 7] & 1)) which.push(i);
    }
    const few = new Uint16Array(WIDTH * Math.max(1, Math.ceil(which.length / WIDTH)) * 4);
    which.forEach((i, k) => few.set(points.subarray(4 * i, 4 * i + 4), 4 * k));
    return { texture: pointTexture(few), n: which.length, of: which };
  };
  const texture = (format, type, inside, width, height, values) => {
    const made = gl.createTexture();
    gl.bindTexture(gl.TEXTURE_2D, made);
    gl.pixelStorei(gl.UNPACK_ALIGNMENT, 1);
    gl.texImage2D(gl.TEXTURE_2D, 0, inside, width, height, 0, format, type, values);
    for (const filter of [gl.TEXTURE_MIN_FILTER, gl.TEXTURE_MAG_FILTER]) {
      gl.texParameteri(gl.TEXTURE_2D, filter, gl.NEAREST);
    }
    return made;
  };
  const pointTexture = (points) =>
    texture(gl.RGBA_INTEGER, gl.UNSIGNED_SHORT, gl.RGBA16UI, WIDTH, points.length / 4 / WIDTH, points);

  // --- the programs ---------------------------------------------------------------------------------------
  // A bead from one point to the next is the half of its oval that the eye sees, in two or four strips.
  const BEAD = `#version 300 es
    precision highp float; precision highp int; precision highp usampler2D; precision highp sampler2D;
    uniform usampler2D points; uniform sampler2D colours;
    uniform mat4 view; uniform vec3 low, eye; uniform float each, strips; uniform vec2 bead;
    out vec3 colour, normal; out float aside;
    uvec4 at(int i) { return texelFetch(points, ivec2(i % ${WIDTH}, i / ${WIDTH}), 0); }
    void main() {
      uvec4 one = at(gl_InstanceID), two = at(gl_InstanceID + 1);
      if ((two.w & 1u) == 1u) { gl_Position = vec4(2.0, 2.0, 2.0, 1.0); return; }
      vec3 from = low + vec3(one.xyz) * each, to = low + vec3(two.xyz) * each;
      from.z -= bead.y / 2.0; to.z -= bead.y / 2.0;  // the nozzle goes along the top of the bead
      vec3 way = to - from; float far = max(length(way), 1e-6); way /= far;
      vec3 sight = normalize(eye - (from + to) / 2.0);
      vec3 across = cross(way, sight); float wide = length(across);
      across = wide > 1e-4 ? across / wide : normalize(cross(way, vec3(0.3, 0.5, 0.8)));
      vec3 toward = cross(across, way);
      vec3 axes = vec3(bead.x, bead.x, bead.y) / 2.0;
      float angle = (float(gl_VertexID / 2) / strips - 0.5) * ${Math.PI};
      aside = sin(angle); normal = across * aside + toward * cos(angle);
      vec3 outer = axes * axes * normal / length(axes * normal);  // where the oval has this normal
      bool first = (gl_VertexID & 1) == 0;
      vec3 place = (first ? from : to) + outer - way * dot(way, outer)
        + way * (first ? -1.0 : 1.0) * min(bead.y * 0.1, far * 0.5);
      colour = texelFetch(colours, ivec2(int(two.w >> 1), 0), 0).rgb;
      gl_Position = view * vec4(place, 1.0);
    }`;
  const LIT = `#version 300 es
    precision highp float;
    in vec3 colour, normal; in float aside; out vec4 shown;
    void main() {
      vec3 up = normalize(normal);
      float light = 0.5 + 0.5 * max(dot(up, normalize(vec3(0.35, -0.75, 0.55))), 0.0)
        + 0.25 * max(dot(up, normalize(vec3(-0.8, 0.2, 0.35))), 0.0);
      shown = vec4(colour * light * (1.0 - 0.4 * pow(abs(aside), 3.0)), 1.0);
    }`;
  const LINE = `#version 300 es
    uniform mat4 view; in vec3 place; void main() { gl_Position = view * vec4(place, 1.0); }`;
  const PLAIN = `#version 300 es
    precision highp float; uniform vec3 ink; out vec4 shown; void main() { shown = vec4(ink, 1.0); }`;
  const program = (...sources) => {
    const made = gl.createProgram();
    [gl.VERTEX_SHADER, gl.FRAGMENT_SHADER].forEach((kind, index) => {
      const shader = gl.createShader(kind);
      gl.shaderSource(shader, sources[index].trim());
      gl.compileShader(shader);
      gl.attachShader(made, shader);
    });
    gl.linkProgram(made);
    if (!gl.getProgramParameter(made, gl.LINK_STATUS)) throw new Error(gl.getProgramInfoLog(made) || "shader");
    const places = {};
    for (let i = 0; i < gl.getProgramParameter(made, gl.ACTIVE_UNIFORMS); i++) {
      const { name } = gl.getActiveUniform(made, i);
      places[name] = gl.getUniformLocation(made, name);
    }
    return { made, places };
  };

  // --- what stands round the piece ------------------------------------------------------------------------
  const ring = (x0, x1, y0, y1, z, round) => {
    const count = round ? 96 : 4;
    return Array.from({ length: count + 1 }, (_, k) => {
      const angle = (2 * Math.PI * k) / count;
      return round
        ? [(x0 + x1) / 2 + ((x1 - x0) / 2) * Math.cos(angle), (y0 + y1) / 2 + ((y1 - y0) / 2) * Math.sin(angle), z]
        : [k % 4 < 1 || k % 4 > 2 ? x0 : x1, k % 4 < 2 ? y0 : y1, z];
    });
  };
  const lines = (box) => {
    const [x, y] = piece.marks[0].at;
    const grow = 6;
    const found = [
      { ink: [0.5, 0.48, 0.45], points: ring(...piece.bed, 0, piece.bed_round) },
      { ink: [0.5, 0.48, 0.45], points: [[x - 5, y, 0], [x + 5, y, 0]] },
      { ink: [0.5, 0.48, 0.45], points: [[x, y - 5, 0], [x, y + 5, 0]] },
    ];
    for (const [x0, x1, y0, y1, z, round] of piece.slab) {
      for (const height of [0, z]) found.push({ ink: [0.6, 0.4, 0.25], points: ring(x0, x1, y0, y1, height, round) });
    }
    for (const stroke of piece.strokes) found.push({ ink: [0.6, 0.4, 0.25], points: stroke });
    for (const pause of piece.pauses) {
      const ends = [box[0][0] - grow, box[1][0] + grow, box[0][1] - grow, box[1][1] + grow];
      found.push({ ink: [0.75, 0.2, 0.12], points: ring(...ends, pause.at_mm, true) });
    }
    return found;
  };

  // --- matrices and colours -------------------------------------------------------------------------------
  const minus = (a, b) => a.map((value, k) => value - b[k]);
  const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
  const cross = (a, b) => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
  const unit = (a) => a.map((value) => value / (Math.hypot(...a) || 1));
  const viewing = (eye, middle, wide, near, far) => {
    const back = unit(minus(eye, middle));
    const right = unit(cross([0, 0, 1], back));
    const up = cross(back, right);
    const f = 1 / Math.tan(0.3);
    const [a, b] = [(far + near) / (near - far), (2 * far * near) / (near - far)];
    const axes = [right, up, back];
    const move = axes.map((axis) => -dot(axis, eye));
    const out = [];
    for (let k = 0; k < 3; k++) out.push((f / wide) * right[k], f * up[k], a * back[k], -back[k]);
    out.push((f / wide) * move[0], f * move[1], a * move[2] + b, -move[2]);
    return out;
  };
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

  const begin = (points) => {
    $("solid").hidden = false;
    $("still").hidden = true;
    const n = piece.points;
    const box = [[...piece.low_mm], [...piece.low_mm]];
    for (let axis = 0; axis < 3; axis++) {
      let most = 0;
      for (let i = 0; i < n; i++) if (points[4 * i + axis] > most) most = points[4 * i + axis];
      box[1][axis] += most * piece.step_mm;
    }
    const whole = pointTexture(points);
    const few = n > MOVING ? thinned(points, n, MOVING) : null;
    const some = n > RESTING ? thinned(points, n, RESTING) : null;
    const bead = program(BEAD, LIT);
    const line = program(LINE, PLAIN);
    const around = lines(box);
    const buffer = gl.createBuffer();
    gl.bindBuffer(gl.ARRAY_BUFFER, buffer);
    gl.bufferData(gl.ARRAY_BUFFER, new Float32Array(around.flatMap((one) => one.points.flat())), gl.STATIC_DRAW);
    const array = gl.createVertexArray();
    const bare = gl.createVertexArray();
    gl.bindVertexArray(array);
    const place = gl.getAttribLocation(line.made, "place");
    gl.enableVertexAttribArray(place);
    gl.vertexAttribPointer(place, 3, gl.FLOAT, false, 0, 0);
    let colours = null;
    const size = Math.hypot(...minus(box[1], box[0]));
    const middle = box[0].map((low, k) => (low + box[1][k]) / 2);
    const look = { turn: -0.6, tilt: 0.3, far: size * 1.75 };
    let shown = n;
    let moving = false;
    let asked = false;

    const labels = [
      ...piece.marks,
      ...piece.pauses.map((pause) => ({ text: pause.text, at: [box[1][0] + 6, middle[1], pause.at_mm] })),
    ].map((mark) => {
      const label = document.createElement("span");
      label.textContent = mark.text;
      $("labels").append(label);
      return { label, at: mark.at };
    });

    const draw = () => {
      asked = false;
      const scale = Math.min(window.devicePixelRatio || 1, 2);
      const [wide, high] = [canvas.clientWidth, canvas.clientHeight];
      if (!wide || !high) return;
      canvas.width = Math.round(wide * scale);
      canvas.height = Math.round(high * scale);
      gl.viewport(0, 0, canvas.width, canvas.height);
      const [c, s] = [Math.cos(look.tilt), Math.sin(look.tilt)];
      const eye = [c * Math.sin(look.turn), -c * Math.cos(look.turn), s].map((v, k) => middle[k] + v * look.far);
      const room = size * 2 + 400;
      const view = viewing(eye, middle, wide / high, Math.max(look.far - room, size * 0.02), look.far + room);
      gl.clearColor(0, 0, 0, 0);
      gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
      gl.enable(gl.DEPTH_TEST);
      const part = moving ? few : look.far > size ? some : null;
      gl.useProgram(bead.made);
      gl.bindVertexArray(bare);
      gl.activeTexture(gl.TEXTURE0);
      gl.bindTexture(gl.TEXTURE_2D, part ? part.texture : whole);
      gl.activeTexture(gl.TEXTURE1);
      gl.bindTexture(gl.TEXTURE_2D, colours);
      gl.uniform1i(bead.places.points, 0);
      gl.uniform1i(bead.places.colours, 1);
      gl.uniformMatrix4fv(bead.places.view, false, view);
      gl.uniform3fv(bead.places.low, piece.low_mm);
      gl.uniform3fv(bead.places.eye, eye);
      gl.uniform1f(bead.places.each, piece.step_mm);
      gl.uniform2fv(bead.places.bead, piece.bead_mm);
      const drawn = part ? part.of.findIndex((i) => i >= shown - 1) + 1 || part.n : shown;
      const strips = moving || drawn > RESTING ? 2 : 4;
      gl.uniform1f(bead.places.strips, strips);
      if (drawn > 1) gl.drawArraysInstanced(gl.TRIANGLE_STRIP, 0, 2 * strips + 2, drawn - 1);
      gl.useProgram(line.made);
      gl.bindVertexArray(array);
      gl.uniformMatrix4fv(line.places.view, false, view);
      let first = 0;
      for (const { ink, points: ends } of around) {
        gl.uniform3fv(line.places.ink, ink);
        gl.drawArrays(gl.LINE_STRIP, first, ends.length);
        first += ends.length;
      }
      const taken = [];
      for (const { label, at } of labels) {
        const p = [0, 1, 3].map((r) => view[r] * at[0] + view[4 + r] * at[1] + view[8 + r] * at[2] + view[12 + r]);
        const [x, y] = [((p[0] / p[2] + 1) / 2) * wide, ((1 - p[1] / p[2]) / 2) * high];
        const left = Math.min(Math.max(x, 0), wide - label.offsetWidth);
        // a label that would lie over another one, or out of sight, is left out
        const free = p[2] > 0 && y > 0 && y < high - 28 && taken.every(([tx, ty, tw]) => Math.abs(ty - y) > 28 || left > tx + tw || left + label.offsetWidth < tx);
        label.style.visibility = free ? "visible" : "hidden";
        label.style.transform = `translate(${left}px, ${y}px)`;
        if (free) taken.push([left, y, label.offsetWidth]);
      }
    };
    const redraw = () => {
      if (!asked) requestAnimationFrame(draw);
      asked = true;
    };
    let rest = 0;
    const moved = () => {
      moving = true;
      clearTimeout(rest);
      rest = setTimeout(() => {
        moving = false;
        redraw();
      }, 250);
      redraw();
    };
    const turn = (by, up) => {
      look.turn += by;
      look.tilt = Math.min(Math.max(look.tilt + up, -0.3), 1.5);
      moved();
    };
    const zoom = (by) => {
      look.far = Math.min(Math.max(look.far * by, size * 0.25), size * 5 + 300);
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

    // --- the slider ---------------------------------------------------------------------------------------
    const rows = piece.layer.length;
    const slide = () => {
      const value = Number($("slider").value) / 1000;
      let row = Math.min(Math.ceil(value * rows), rows);
      let share = 1;
      if ($("by-clock").checked) {
        const since = rows > 1 ? piece.clock_s[0] : 0;
        const clock_s = value === 1 ? Infinity : value * piece.clock_s[rows - 1];
        row = piece.clock_s.filter((done) => done < clock_s).length + 1;
        const from = row > 1 ? piece.clock_s[row - 2] : Math.min(since, 0);
        share = row > rows ? 1 : (clock_s - from) / Math.max(piece.clock_s[row - 1] - from, 1e-9);
        row = Math.min(row, rows);
      }
      const start = row > 0 ? piece.starts[row - 1] : 0;
      const end = row < rows ? piece.starts[row] : n;
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
      const text = data.words.built.replace(/\{(\w+)\}/g, (_, name) => String(said[name]));
      $("built").textContent = text;
      $("slider").setAttribute("aria-valuetext", text);
      canvas.dataset.shown = String(shown);
      moved();
    };
    $("slider").addEventListener("input", slide);
    $("by-clock").addEventListener("change", slide);

    // --- colours ------------------------------------------------------------------------------------------
    const choose = (way, button) => {
      const values = Uint8Array.from(coloursOf(way).flatMap((one) => [...one, 255]));
      if (colours) gl.deleteTexture(colours);
      gl.activeTexture(gl.TEXTURE1);
      colours = texture(gl.RGBA, gl.UNSIGNED_BYTE, gl.RGBA8, values.length / 4, 1, values);
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
    requestAnimationFrame(() => requestAnimationFrame(() => (canvas.dataset.ready = "yes")));
    // without a picture in space the still one comes back
    canvas.addEventListener("webglcontextlost", () => {
      $("solid").hidden = true;
      $("still").hidden = false;
      $("no-solid").hidden = false;
    });
  };
  unpack().then(begin, () => ($("no-solid").hidden = false));
})();
