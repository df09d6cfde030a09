// The piece in space: the laid path as lit beads, drawn by WebGL2 from textures that hold its points.
const solidIn = (() => {
  "use strict";
  const WIDTH = 2048; // of a texture of points
  const LINE_PX = 3; // of a line round the piece
  const FEWEST = 3000; // points of the coarsest of the drawings of a piece

  // --- the points -----------------------------------------------------------------------------------------
  // Four numbers each: x, y, z in steps, and twice its row, plus one where a bead begins.
  const unpacked = async (piece, text) => {
    const packed = Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
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
  // Half as many points: every second one, and those where a bead begins or ends.
  const halved = ({ points, of, n }) => {
    const which = [];
    for (let i = 0; i < n; i++) {
      if (i % 2 === 0 || points[4 * i + 3] & 1 || i + 1 === n || points[4 * i + 7] & 1) which.push(i);
    }
    const few = new Uint16Array(WIDTH * Math.ceil(which.length / WIDTH) * 4);
    which.forEach((i, k) => few.set(points.subarray(4 * i, 4 * i + 4), 4 * k));
    return { points: few, of: Uint32Array.from(which, (i) => (of ? of[i] : i)), n: which.length };
  };
  // How many of the points of a coarser drawing are needed for the first `shown` of the finest.
  const needed = ({ of, n }, shown) => {
    if (!of) return shown;
    let [low, high] = [0, n];
    while (low < high) {
      const middle = (low + high) >> 1;
      if (of[middle] < shown - 1) low = middle + 1;
      else high = middle;
    }
    return shown ? Math.min(low + 1, n) : 0;
  };

  // --- the programs ---------------------------------------------------------------------------------------
  // A bead from one point to the next is the half of its oval that the eye sees, in two or four strips.
  const BEAD = `#version 300 es
    precision highp float; precision highp int; precision highp usampler2D; precision highp sampler2D;
    uniform usampler2D points; uniform sampler2D colours;
    uniform mat4 view; uniform vec3 low, eye; uniform float each; uniform int strips; uniform vec2 bead;
    out vec3 colour, normal; out float aside;
    uvec4 at(int i) { return texelFetch(points, ivec2(i % ${WIDTH}, i / ${WIDTH}), 0); }
    void main() {
      int count = 2 * strips + 4, which = gl_VertexID / count;  // its first and last corner stand twice
      int corner = clamp(gl_VertexID % count - 1, 0, count - 3);
      uvec4 one = at(which), two = at(which + 1);
      if ((two.w & 1u) == 1u) { gl_Position = vec4(2.0, 2.0, 2.0, 1.0); return; }
      vec3 from = low + vec3(one.xyz) * each, to = low + vec3(two.xyz) * each;
      from.z -= bead.y / 2.0; to.z -= bead.y / 2.0;  // the nozzle goes along the top of the bead
      vec3 way = to - from; float far = max(length(way), 1e-6); way /= far;
      vec3 sight = normalize(eye - (from + to) / 2.0);
      vec3 across = cross(way, sight); float wide = length(across);
      across = wide > 1e-4 ? across / wide : normalize(cross(way, vec3(0.3, 0.5, 0.8)));
      vec3 toward = cross(across, way);
      vec3 axes = vec3(bead.x, bead.x, bead.y) / 2.0;
      float angle = (float(corner / 2) / float(strips) - 0.5) * ${Math.PI};
      aside = sin(angle); normal = across * aside + toward * cos(angle);
      vec3 outer = axes * axes * normal / length(axes * normal);  // where the oval has this normal
      bool first = (corner & 1) == 0;
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
  // A line from one point to the next as a narrow band that faces the eye, of six corners.
  const LINE = `#version 300 es
    uniform mat4 view; uniform vec2 grid; uniform float broad; in vec3 one, two;
    void main() {
      int corner = gl_VertexID % 6;
      bool last = corner == 1 || corner > 3, left = corner > 1 && corner < 5;
      vec4 from = view * vec4(one, 1.0), to = view * vec4(two, 1.0);
      vec4 here = last ? to : from;
      vec2 way = (to.xy / to.w - from.xy / from.w) * grid;
      vec2 aside = length(way) > 1e-6 ? normalize(vec2(-way.y, way.x)) : vec2(0.0, 1.0);
      here.xy += aside * (left ? broad : -broad) / grid * here.w;
      gl_Position = here;
    }`;
  const PLAIN = `#version 300 es
    precision highp float; uniform vec3 ink; out vec4 shown; void main() { shown = vec4(ink, 1.0); }`;
  const program = (gl, ...sources) => {
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
  const cornersOf = (points) =>
    points.slice(1).flatMap((point, k) => Array.from({ length: 6 }, () => [...points[k], ...point]).flat());
  const lines = (piece, box) => {
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

  // --- matrices --------------------------------------------------------------------------------------------
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

  // --- drawing --------------------------------------------------------------------------------------------
  const texture = (gl, format, type, inside, width, height, values) => {
    const made = gl.createTexture();
    gl.bindTexture(gl.TEXTURE_2D, made);
    gl.pixelStorei(gl.UNPACK_ALIGNMENT, 1);
    gl.texImage2D(gl.TEXTURE_2D, 0, inside, width, height, 0, format, type, values);
    for (const filter of [gl.TEXTURE_MIN_FILTER, gl.TEXTURE_MAG_FILTER]) {
      gl.texParameteri(gl.TEXTURE_2D, filter, gl.NEAREST);
    }
    return made;
  };
  const boxOf = (piece, points) => {
    const box = [[...piece.low_mm], [...piece.low_mm]];
    for (let axis = 0; axis < 3; axis++) {
      let most = 0;
      for (let i = 0; i < piece.points; i++) most = Math.max(most, points[4 * i + axis]);
      box[1][axis] += most * piece.step_mm;
    }
    return box;
  };
  // The finest drawing first, each with half the points of the one before; a texture is made when it is used.
  const drawingsOf = (points, n) => {
    const found = [{ points, of: null, n }];
    while (found[found.length - 1].n > 2 * FEWEST) {
      const next = halved(found[found.length - 1]);
      if (next.n > 0.9 * found[found.length - 1].n) break; // beads of two points each: none can go
      found.push(next);
    }
    return found;
  };

  // What draws a piece: `frame` one picture, `recolour` from then on in other colours.
  return async (gl, piece, packed) => {
    const points = await unpacked(piece, packed);
    const drawings = drawingsOf(points, piece.points);
    const box = boxOf(piece, points);
    const bead = program(gl, BEAD, LIT);
    const line = program(gl, LINE, PLAIN);
    const around = lines(piece, box);
    const buffer = gl.createBuffer();
    gl.bindBuffer(gl.ARRAY_BUFFER, buffer);
    gl.bufferData(gl.ARRAY_BUFFER, new Float32Array(around.flatMap(({ points: at }) => cornersOf(at))), gl.STATIC_DRAW);
    const [array, bare] = [gl.createVertexArray(), gl.createVertexArray()];
    gl.bindVertexArray(array);
    ["one", "two"].forEach((end, k) => {
      const place = gl.getAttribLocation(line.made, end);
      gl.enableVertexAttribArray(place);
      gl.vertexAttribPointer(place, 3, gl.FLOAT, false, 24, 12 * k);
    });
    const size = Math.hypot(...minus(box[1], box[0]));
    const middle = box[0].map((low, k) => (low + box[1][k]) / 2);
    let colours = null;

    const recolour = (rgba) => {
      if (colours) gl.deleteTexture(colours);
      gl.activeTexture(gl.TEXTURE1);
      colours = texture(gl, gl.RGBA, gl.UNSIGNED_BYTE, gl.RGBA8, rgba.length / 4, 1, rgba);
    };
    // The finest drawing of at most so many points.
    const drawingOf = (most) => {
      const found = drawings.find((one) => one.n <= most) ?? drawings[drawings.length - 1];
      if (!found.texture) {
        const rows = found.points.length / 4 / WIDTH;
        gl.activeTexture(gl.TEXTURE0);
        found.texture = texture(
          gl, gl.RGBA_INTEGER, gl.UNSIGNED_SHORT, gl.RGBA16UI, WIDTH, rows, found.points,
        );
      }
      return found;
    };
    const drawBeads = (view, eye, drawing, drawn, strips) => {
      gl.useProgram(bead.made);
      gl.bindVertexArray(bare);
      gl.activeTexture(gl.TEXTURE0);
      gl.bindTexture(gl.TEXTURE_2D, drawing.texture);
      gl.activeTexture(gl.TEXTURE1);
      gl.bindTexture(gl.TEXTURE_2D, colours);
      gl.uniform1i(bead.places.points, 0);
      gl.uniform1i(bead.places.colours, 1);
      gl.uniformMatrix4fv(bead.places.view, false, view);
      gl.uniform3fv(bead.places.low, piece.low_mm);
      gl.uniform3fv(bead.places.eye, eye);
      gl.uniform1f(bead.places.each, piece.step_mm);
      gl.uniform2fv(bead.places.bead, piece.bead_mm);
      gl.uniform1i(bead.places.strips, strips);
      // one strip for all: a machine that draws by software begins anew for each instance of a few corners
      if (drawn > 1) gl.drawArrays(gl.TRIANGLE_STRIP, 0, (2 * strips + 4) * (drawn - 1));
    };
    const drawLines = (view) => {
      gl.useProgram(line.made);
      gl.bindVertexArray(array);
      gl.uniformMatrix4fv(line.places.view, false, view);
      gl.uniform2f(line.places.grid, gl.canvas.width, gl.canvas.height);
      gl.uniform1f(line.places.broad, (LINE_PX * gl.canvas.width) / gl.canvas.clientWidth);
      let first = 0;
      for (const { ink, points: at } of around) {
        gl.uniform3fv(line.places.ink, ink);
        gl.drawArrays(gl.TRIANGLES, first, 6 * (at.length - 1));
        first += 6 * (at.length - 1);
      }
    };
    // One picture of the first `shown` points by at most `most`, `strips` to a bead; gives the view.
    const frame = ({ turn, tilt, far }, { shown, most, strips }, wide, high) => {
      gl.viewport(0, 0, gl.canvas.width, gl.canvas.height);
      const [c, s] = [Math.cos(tilt), Math.sin(tilt)];
      const eye = [c * Math.sin(turn), -c * Math.cos(turn), s].map((v, k) => middle[k] + v * far);
      const room = size * 2 + 400;
      const view = viewing(eye, middle, wide / high, Math.max(far - room, size * 0.02), far + room);
      gl.clearColor(0, 0, 0, 0);
      gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
      gl.enable(gl.DEPTH_TEST);
      const drawing = drawingOf(most);
      const drawn = needed(drawing, shown);
      drawBeads(view, eye, drawing, drawn, strips);
      drawLines(view);
      return { view, drawn, of: drawing.n };
    };
    return { frame, recolour, box, middle, size };
  };
})();
