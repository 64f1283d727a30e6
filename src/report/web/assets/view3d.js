// A lumen and the devices in it, drawn by WebGL2. No other script is needed; nothing is loaded.
//
//   const view = createView3D(canvas);          throws an Error in plain words where there is no WebGL2
//   view.setLumen(branches);                    each { points, radii, target, closed }
//   view.moveLumen(pointsOfEach);               the same branches elsewhere: a Float32Array for each
//   view.setWall(points, triangles);            a surface in place of the branches
//   view.setDevices(devices);                   each { points, radii, values, kind }
//   view.camera                                 see below; change it, then draw
//   view.turn(right_rad, up_rad), view.pan(right_px, up_px), view.zoom(factor)
//   view.project(point) -> [x, y, scale]        CSS pixels from the canvas's top left corner, and pixels a mm there
//   view.extent(tubes) -> { centre, size }      middle in mm of tubes { points, radii } as the camera is turned, and
//                                               how far they reach to the right and up
//   view.draw()
//   view.paper(on)                              as many dots as paper shows, from the next drawing on
//   view.dispose()                              gives the memory of the graphics card back
//
// Lengths are in mm. `points` is a Float32Array x, y, z, x, y, z ...; `radii` one number for all points or
// a Float32Array with one for each. `values` has a number for each point: below 0 the plain colour of the
// kind, from 0 to 1 the scale of view3DScale(), with bands that become narrower as the value rises, so that
// it can be read without colours. `kind`: "wire", "catheter", "balloon", "body" or "guide"; "guide" is open
// at its ends. `target`: drawn in the colour of the target. `closed`: the branch's ends are round.
//
// camera: { centre, right, up, toward, height, distance }. The point in the middle of the picture in mm;
// three unit vectors, to the right and up in the picture and towards the viewer; the height in mm that is
// seen at the centre; the distance of the eye from it in mm (large: parallel; below 0: the eye is behind the
// scene and the picture on the viewer's side, so that what is farther from the viewer is larger, as in an X-ray
// image). The whole scene must lie in front of the eye.
"use strict";

// Colours of a value from 0 to 1, each darker than the one before.
function view3DScale() {
  return [[226, 190, 108], [219, 140, 58], [190, 84, 48], [140, 36, 52], [74, 8, 44]];
}

function createView3D(canvas) {
  const SIDES = 20, CAP = 4, ROW = 1024;
  const isSoftware = softwareDrawn();
  const gl = canvas.getContext("webgl2", {
    antialias: !isSoftware, alpha: false, powerPreference: "high-performance",
  });
  if (!gl) throw new Error("This browser does not draw with WebGL2; the tables and figures work without it.");

  const VERTEX = `#version 300 es
    precision highp float;
    uniform highp sampler2D rings;   // four texels a ring, see put()
    uniform vec3 centre, right, up, toward;
    uniform vec4 lens;               // half width, half height, distance, half depth
    layout(location = 0) in float outside;
    out vec3 normal, eye;
    out float value, kind, along, beyond;
    vec4 ring(int i) { return texelFetch(rings, ivec2(i % ${ROW}, i / ${ROW}), 0); }
    void main() {
      int number = gl_VertexID / ${SIDES + 1};
      float angle = float(gl_VertexID % ${SIDES + 1}) * ${(2 * Math.PI / SIDES).toFixed(9)};
      vec4 c = ring(4 * number), n = ring(4 * number + 1), t = ring(4 * number + 2), s = ring(4 * number + 3);
      vec3 side = cos(angle) * n.xyz + sin(angle) * cross(t.xyz, n.xyz);
      normal = normalize(side * s.z + t.xyz * s.y);
      vec3 p = c.xyz + side * c.w - centre;
      vec3 v = vec3(dot(p, right), dot(p, up), dot(p, toward));
      eye = toward * lens.z - p;
      value = n.w; kind = t.w; along = s.x; beyond = outside;
      float w = 1.0 - v.z / lens.z;
      gl_Position = vec4(v.x / lens.x, v.y / lens.y, -v.z / lens.w * w, w);
    }`;
  const WALL_VERTEX = `#version 300 es
    precision highp float;
    uniform vec3 centre, right, up, toward;
    uniform vec4 lens;
    layout(location = 0) in vec3 place;
    layout(location = 1) in vec3 way;
    out vec3 normal, eye;
    out float value, kind, along, beyond;
    void main() {
      vec3 p = place - centre;
      vec3 v = vec3(dot(p, right), dot(p, up), dot(p, toward));
      normal = way; eye = toward * lens.z - p;
      value = -1.0; kind = 0.0; along = 0.0; beyond = 1.0;
      float w = 1.0 - v.z / lens.z;
      gl_Position = vec4(v.x / lens.x, v.y / lens.y, -v.z / lens.w * w, w);
    }`;
  const FRAGMENT = `#version 300 es
    precision highp float;
    uniform vec3 scale[5];
    uniform vec3 plain[8];
    uniform bool isLumen;
    in vec3 normal, eye;
    in float value, kind, along, beyond;
    out vec4 colour;
    void main() {
      float facing = abs(dot(normalize(normal), normalize(eye)));
      int k = int(kind + 0.5);
      if (isLumen) {
        if (beyond < 0.0) discard;
        float rim = 1.0 - facing;
        float a = 0.07 + 0.62 * rim * rim * rim;
        colour = vec4(plain[k] * a, a);
        return;
      }
      vec3 base = plain[k];
      if (value >= 0.0) {
        float at = clamp(value, 0.0, 1.0) * 3.999;
        int i = int(at);
        base = mix(scale[i], scale[i + 1], fract(at));
        float length = value > 0.75 ? 0.5 : value > 0.5 ? 1.0 : value > 0.25 ? 2.0 : 0.0;
        if (length > 0.0 && fract(along / length) < 0.3) base = value > 0.5 ? base + 0.4 * (1.0 - base) : 0.55 * base;
      }
      float light = 0.42 + 0.58 * facing;
      colour = vec4(base * light, 1.0);
    }`;

  // Colours of the kinds: lumen, target, wire, catheter, balloon, body, guide, other wire.
  const KINDS = { lumen: 0, target: 1, wire: 2, catheter: 3, balloon: 4, body: 5, guide: 6 };
  const PLAIN = [[150, 112, 104], [22, 120, 92], [128, 136, 146], [176, 160, 132], [158, 134, 178], [196, 178, 140],
    [104, 110, 118], [96, 102, 110]];

  const tubes = program(VERTEX), walls = program(WALL_VERTEX);
  const lumen = group(true), devices = group(false);
  let wall = null;
  let branches = [];
  // The lumen as it was drawn last, and how often it has changed.
  const layer = { key: "", frame: null, picture: null };
  let lumenNumber = 0;
  const camera = {
    centre: [0, 0, 0], right: [1, 0, 0], up: [0, 1, 0], toward: [0, 0, 1], height: 60, distance: 300,
  };
  // On paper more dots are seen than on a screen.
  let forPaper = false;
  const bounds = { middle: [0, 0, 0], radius: 50 };

  // Whether the picture is drawn by the processor; then edges are not smoothed, which costs most there.
  function softwareDrawn() {
    const probe = document.createElement("canvas").getContext("webgl2");
    if (!probe) return false;
    const named = probe.getExtension("WEBGL_debug_renderer_info");
    const name = String(probe.getParameter(named ? named.UNMASKED_RENDERER_WEBGL : probe.RENDERER));
    const lose = probe.getExtension("WEBGL_lose_context");
    if (lose) lose.loseContext();
    return /swiftshader|llvmpipe|software|basic render/i.test(name);
  }

  function program(vertex) {
    const made = gl.createProgram();
    for (const [kind, text] of [[gl.VERTEX_SHADER, vertex], [gl.FRAGMENT_SHADER, FRAGMENT]]) {
      const shader = gl.createShader(kind);
      gl.shaderSource(shader, text);
      gl.compileShader(shader);
      if (!gl.getShaderParameter(shader, gl.COMPILE_STATUS)) throw new Error(gl.getShaderInfoLog(shader));
      gl.attachShader(made, shader);
    }
    gl.linkProgram(made);
    if (!gl.getProgramParameter(made, gl.LINK_STATUS)) throw new Error(gl.getProgramInfoLog(made));
    const at = (name) => gl.getUniformLocation(made, name);
    const places = {};
    for (const name of ["centre", "right", "up", "toward", "lens", "isLumen", "scale", "plain", "rings"]) {
      places[name] = at(name);
    }
    gl.useProgram(made);
    gl.uniform3fv(places.scale, view3DScale().flat().map((c) => c / 255));
    gl.uniform3fv(places.plain, PLAIN.flat().map((c) => c / 255));
    return { made, places };
  }

  // Tubes that are drawn in one call.
  function group(isLumen) {
    const made = {
      isLumen, array: gl.createVertexArray(), indices: gl.createBuffer(), texture: gl.createTexture(),
      outside: isLumen ? gl.createBuffer() : null, shape: "", count: 0, rows: 0, data: new Float32Array(0),
    };
    gl.bindTexture(gl.TEXTURE_2D, made.texture);
    for (const [name, choice] of [[gl.TEXTURE_MIN_FILTER, gl.NEAREST], [gl.TEXTURE_MAG_FILTER, gl.NEAREST],
      [gl.TEXTURE_WRAP_S, gl.CLAMP_TO_EDGE], [gl.TEXTURE_WRAP_T, gl.CLAMP_TO_EDGE]]) {
      gl.texParameteri(gl.TEXTURE_2D, name, choice);
    }
    return made;
  }

  const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
  const cross = (a, b) => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
  const unit = (a) => { const n = Math.hypot(a[0], a[1], a[2]) || 1; return [a[0] / n, a[1] / n, a[2] / n]; };
  const radiusAt = (tube, i) => (typeof tube.radii === "number" ? tube.radii : tube.radii[i]);

  // Rings with frames that are carried along without twist, and round ends.
  function put(into, tubesOf) {
    const counts = tubesOf.map((t) => t.points.length / 3 + (isRound(t, 0) ? CAP : 0) + (isRound(t, 1) ? CAP : 0));
    const rings = counts.reduce((a, b) => a + b, 0);
    const rows = Math.max(1, Math.ceil(4 * rings / ROW));
    if (into.data.length < rows * ROW * 4) into.data = new Float32Array(rows * ROW * 4 * (into.isLumen ? 1 : 2));
    const data = into.data;
    let ring = 0;
    const add = (p, r, n, t, value, kind, along, lean, out) => {
      const o = 16 * ring;
      data[o] = p[0]; data[o + 1] = p[1]; data[o + 2] = p[2]; data[o + 3] = r;
      data[o + 4] = n[0]; data[o + 5] = n[1]; data[o + 6] = n[2]; data[o + 7] = value;
      data[o + 8] = t[0]; data[o + 9] = t[1]; data[o + 10] = t[2]; data[o + 11] = kind;
      data[o + 12] = along; data[o + 13] = lean; data[o + 14] = out; data[o + 15] = 0;
      ring += 1;
    };
    for (const tube of tubesOf) {
      const p = tube.points, last = p.length / 3 - 1;
      const kind = tube.kindNumber;
      // Distances from the end keep their place on a device that is fed.
      let along = 0;
      for (let i = 1; i <= last; i += 1) {
        along += Math.hypot(p[3 * i] - p[3 * i - 3], p[3 * i + 1] - p[3 * i - 2], p[3 * i + 2] - p[3 * i - 1]);
      }
      let n = null;
      for (let i = 0; i <= last; i += 1) {
        const a = Math.max(i - 1, 0), b = Math.min(i + 1, last);
        const t = unit([p[3 * b] - p[3 * a], p[3 * b + 1] - p[3 * a + 1], p[3 * b + 2] - p[3 * a + 2]]);
        if (!n) n = Math.abs(t[0]) < 0.6 ? [1, 0, 0] : [0, 1, 0];
        const d = dot(n, t);
        n = unit([n[0] - d * t[0], n[1] - d * t[1], n[2] - d * t[2]]);
        const r = radiusAt(tube, i), value = tube.values ? tube.values[i] : -1;
        const at = [p[3 * i], p[3 * i + 1], p[3 * i + 2]];
        if (i > 0) along -= Math.hypot(at[0] - p[3 * i - 3], at[1] - p[3 * i - 2], at[2] - p[3 * i - 1]);
        const cap = (from, sign) => {
          for (let k = 0; k < CAP; k += 1) {
            const angle = (Math.PI / 2) * (from + sign * k) / CAP, s = Math.sin(angle), c = Math.cos(angle);
            const way = sign < 0 ? -s : s;
            add([at[0] + t[0] * r * way, at[1] + t[1] * r * way, at[2] + t[2] * r * way], r * c, n, t, value, kind,
              along, way, c);
          }
        };
        if (i === 0 && isRound(tube, 0)) cap(CAP, -1);
        add(at, r, n, t, value, kind, along, 0, 1);
        if (i === last && isRound(tube, 1)) cap(1, 1);
      }
    }
    gl.bindTexture(gl.TEXTURE_2D, into.texture);
    if (rows > into.rows) {
      into.rows = data.length / (ROW * 4);
      gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGBA32F, ROW, into.rows, 0, gl.RGBA, gl.FLOAT, data);
    } else {
      gl.texSubImage2D(gl.TEXTURE_2D, 0, 0, 0, ROW, rows, gl.RGBA, gl.FLOAT, data);
    }
    const shape = counts.join();
    if (shape === into.shape) return;
    into.shape = shape;
    const indices = new Uint32Array(counts.reduce((sum, c) => sum + Math.max(c - 1, 0) * SIDES * 6, 0));
    let first = 0, o = 0;
    for (const count of counts) {
      for (let i = 0; i + 1 < count; i += 1) {
        for (let k = 0; k < SIDES; k += 1) {
          const a = (first + i) * (SIDES + 1) + k, b = a + SIDES + 1;
          indices[o] = a; indices[o + 1] = a + 1; indices[o + 2] = b + 1;
          indices[o + 3] = a; indices[o + 4] = b + 1; indices[o + 5] = b;
          o += 6;
        }
      }
      first += count;
    }
    gl.bindVertexArray(into.array);
    gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, into.indices);
    gl.bufferData(gl.ELEMENT_ARRAY_BUFFER, indices, gl.DYNAMIC_DRAW);
    if (into.outside) trim(into, tubesOf, counts);
    gl.bindVertexArray(null);
    into.count = indices.length;
  }

  // Ends of devices are round, and those of branches that lie in another one, so that no gap is left where they meet
  // at an angle or with other radii.
  const isRound = (tube, end) => (tube.kindNumber >= KINDS.wire ? tube.kindNumber !== KINDS.guide : tube.meets[end]);

  // Whether start and end of a branch lie in another one.
  function meets(branch, others) {
    const lies = (p) => others.some((other) => other !== branch && close(other, p, 0).some(([of, j]) => gap(of, j, p) < 0.3));
    return [lies(Array.from(branch.points.slice(0, 3))), lies(Array.from(branch.points.slice(-3)))];
  }

  // How far each corner of a branch lies outside all others in mm: what lies inside is not drawn, so that
  // branches run into each other without a wall between them.
  function trim(into, tubesOf, counts) {
    const outside = new Float32Array(counts.reduce((a, b) => a + b, 0) * (SIDES + 1)).fill(1e3);
    const boxes = tubesOf.map((t) => box(t));
    let first = 0;
    tubesOf.forEach((tube, own) => {
      const others = tubesOf.filter((_, i) => i !== own && meet(boxes[i], boxes[own]));
      for (let i = 0; i < counts[own]; i += 1) {
        const o = 16 * (first + i), d = into.data, r = d[o + 3];
        const n = [d[o + 4], d[o + 5], d[o + 6]], t = [d[o + 8], d[o + 9], d[o + 10]], b = cross(t, n);
        const near = others.map((other) => close(other, [d[o], d[o + 1], d[o + 2]], 1.2 * r)).flat();
        if (near.length === 0) continue;
        for (let k = 0; k <= SIDES; k += 1) {
          const c = Math.cos(2 * Math.PI * k / SIDES), s = Math.sin(2 * Math.PI * k / SIDES);
          const p = [0, 1, 2].map((x) => d[o + x] + r * (c * n[x] + s * b[x]));
          let least = 1e3;
          for (const [other, j] of near) least = Math.min(least, gap(other, j, p));
          outside[(first + i) * (SIDES + 1) + k] = least;
        }
      }
      first += counts[own];
    });
    gl.bindBuffer(gl.ARRAY_BUFFER, into.outside);
    gl.bufferData(gl.ARRAY_BUFFER, outside, gl.STATIC_DRAW);
    gl.enableVertexAttribArray(0);
    gl.vertexAttribPointer(0, 1, gl.FLOAT, false, 0, 0);
  }

  function box(tube) {
    const low = [1e9, 1e9, 1e9], high = [-1e9, -1e9, -1e9];
    for (let i = 0; i < tube.points.length; i += 1) {
      const r = radiusAt(tube, Math.floor(i / 3));
      low[i % 3] = Math.min(low[i % 3], tube.points[i] - r);
      high[i % 3] = Math.max(high[i % 3], tube.points[i] + r);
    }
    return { low, high };
  }

  const meet = (a, b) => [0, 1, 2].every((k) => a.low[k] <= b.high[k] && b.low[k] <= a.high[k]);

  // Pieces of a tube that come within `r` of a point's surroundings.
  function close(tube, p, r) {
    const found = [];
    for (let j = 0; j + 1 < tube.points.length / 3; j += 1) {
      const reach = r + Math.max(radiusAt(tube, j), radiusAt(tube, j + 1)) + 0.3;
      if (gap(tube, j, p) + radiusAt(tube, j) < reach) found.push([tube, j]);
    }
    return found;
  }

  // Distance of a point from the surface of piece j of a tube in mm, below 0 inside. Behind an end that lies in no
  // other branch nothing is inside; other ends and starts are round.
  function gap(tube, j, p) {
    const q = tube.points, last = q.length / 3 - 2;
    const a = [q[3 * j], q[3 * j + 1], q[3 * j + 2]];
    const d = [q[3 * j + 3] - a[0], q[3 * j + 4] - a[1], q[3 * j + 5] - a[2]];
    const e = [p[0] - a[0], p[1] - a[1], p[2] - a[2]];
    const raw = dot(e, d) / (dot(d, d) || 1);
    if (j === last && raw > 1 && !tube.meets[1]) return 1e3;
    const s = Math.min(Math.max(raw, 0), 1);
    const r = radiusAt(tube, j) + s * (radiusAt(tube, j + 1) - radiusAt(tube, j));
    return Math.hypot(e[0] - s * d[0], e[1] - s * d[1], e[2] - s * d[2]) - r;
  }

  function enclose(points) {
    const low = [1e9, 1e9, 1e9], high = [-1e9, -1e9, -1e9];
    for (let i = 0; i < points.length; i += 1) {
      low[i % 3] = Math.min(low[i % 3], points[i]);
      high[i % 3] = Math.max(high[i % 3], points[i]);
    }
    bounds.middle = [0, 1, 2].map((k) => 0.5 * (low[k] + high[k]));
    bounds.radius = 0.5 * Math.hypot(high[0] - low[0], high[1] - low[1], high[2] - low[2]) + 10;
  }

  function setLumen(list) {
    wall = null;
    lumenNumber += 1;
    const open = list.map((b) => ({ ...b, kindNumber: b.target ? KINDS.target : KINDS.lumen, meets: [false, false] }));
    branches = open.map((b) => ({ ...b, meets: meets(b, open) }));
    lumen.shape = "";
    if (branches.length > 0) {
      enclose(branches.flatMap((b) => Array.from(b.points)));
      put(lumen, branches);
    }
  }

  function moveLumen(points) {
    lumenNumber += 1;
    branches = branches.map((b, i) => ({ ...b, points: points[i] }));
    put(lumen, branches);
  }

  function setWall(points, triangles) {
    lumenNumber += 1;
    const normals = new Float32Array(points.length);
    for (let i = 0; i < triangles.length; i += 3) {
      const at = (k) => [0, 1, 2].map((x) => points[3 * triangles[i + k] + x]);
      const [a, b, c] = [at(0), at(1), at(2)];
      const n = cross(b.map((v, k) => v - a[k]), c.map((v, k) => v - a[k]));
      for (let k = 0; k < 3; k += 1) for (let x = 0; x < 3; x += 1) normals[3 * triangles[i + k] + x] += n[x];
    }
    wall = { array: gl.createVertexArray(), count: triangles.length };
    gl.bindVertexArray(wall.array);
    [points, normals].forEach((values, place) => {
      gl.bindBuffer(gl.ARRAY_BUFFER, gl.createBuffer());
      gl.bufferData(gl.ARRAY_BUFFER, values, gl.STATIC_DRAW);
      gl.enableVertexAttribArray(place);
      gl.vertexAttribPointer(place, 3, gl.FLOAT, false, 0, 0);
    });
    gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, gl.createBuffer());
    gl.bufferData(gl.ELEMENT_ARRAY_BUFFER, triangles, gl.STATIC_DRAW);
    gl.bindVertexArray(null);
    enclose(points);
  }

  function setDevices(list) {
    const shown = list.filter((d) => d.points.length >= 6);
    put(devices, shown.map((d) => ({ ...d, kindNumber: KINDS[d.kind] || KINDS.wire })));
  }

  function fit() {
    const ratio = forPaper ? 3 : isSoftware ? 1 : Math.min(window.devicePixelRatio || 1, 2);
    const [w, h] = [canvas.clientWidth, canvas.clientHeight].map((x) => Math.max(1, Math.round(x * ratio)));
    if (canvas.width !== w || canvas.height !== h) { canvas.width = w; canvas.height = h; }
  }

  // The lumen first, the devices over it: what is translucent hides nothing. Where the processor draws, the
  // lumen is kept as a picture as long as neither it nor the camera moves.
  function draw() {
    fit();
    gl.viewport(0, 0, canvas.width, canvas.height);
    if (!isSoftware) {
      drawLumen();
    } else {
      const key = [canvas.width, canvas.height, lumenNumber, ...Object.values(camera)].join();
      if (key !== layer.key) {
        layer.key = key;
        keepLayer();
      }
      // First of all, because a browser empties the canvas at the first drawing after it was shown, and a
      // picture that is copied counts for none.
      gl.clearColor(1, 1, 1, 1);
      gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
      gl.bindFramebuffer(gl.READ_FRAMEBUFFER, layer.frame);
      const [w, h] = [canvas.width, canvas.height];
      gl.blitFramebuffer(0, 0, w, h, 0, 0, w, h, gl.COLOR_BUFFER_BIT, gl.NEAREST);
      gl.bindFramebuffer(gl.READ_FRAMEBUFFER, null);
    }
    gl.enable(gl.DEPTH_TEST);
    gl.disable(gl.BLEND);
    drawGroup(devices);
  }

  function drawLumen() {
    gl.clearColor(1, 1, 1, 1);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.disable(gl.DEPTH_TEST);
    gl.enable(gl.BLEND);
    gl.blendFunc(gl.ONE, gl.ONE_MINUS_SRC_ALPHA);
    if (wall) drawWall(); else drawGroup(lumen);
  }

  function keepLayer() {
    if (!layer.frame) { layer.frame = gl.createFramebuffer(); layer.picture = gl.createTexture(); }
    gl.bindTexture(gl.TEXTURE_2D, layer.picture);
    gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGBA8, canvas.width, canvas.height, 0, gl.RGBA, gl.UNSIGNED_BYTE, null);
    gl.bindFramebuffer(gl.FRAMEBUFFER, layer.frame);
    gl.framebufferTexture2D(gl.FRAMEBUFFER, gl.COLOR_ATTACHMENT0, gl.TEXTURE_2D, layer.picture, 0);
    drawLumen();
    gl.bindFramebuffer(gl.FRAMEBUFFER, null);
  }

  function look(of, isLumen) {
    const c = camera, half = 0.5 * c.height;
    const away = [0, 1, 2].map((k) => bounds.middle[k] - c.centre[k]);
    gl.useProgram(of.made);
    for (const name of ["centre", "right", "up", "toward"]) gl.uniform3fv(of.places[name], c[name]);
    gl.uniform4f(of.places.lens, half * canvas.width / canvas.height, half, c.distance,
      bounds.radius + Math.hypot(away[0], away[1], away[2]));
    gl.uniform1i(of.places.isLumen, isLumen ? 1 : 0);
  }

  function drawGroup(which) {
    if (which.count === 0) return;
    look(tubes, which.isLumen);
    gl.bindTexture(gl.TEXTURE_2D, which.texture);
    gl.uniform1i(tubes.places.rings, 0);
    gl.bindVertexArray(which.array);
    if (!which.outside) gl.vertexAttrib1f(0, 1);
    gl.drawElements(gl.TRIANGLES, which.count, gl.UNSIGNED_INT, 0);
    gl.bindVertexArray(null);
  }

  function drawWall() {
    look(walls, true);
    gl.bindVertexArray(wall.array);
    gl.drawElements(gl.TRIANGLES, wall.count, gl.UNSIGNED_INT, 0);
    gl.bindVertexArray(null);
  }

  function turn(right, up) {
    const about = (v, axis, angle) => {
      const c = Math.cos(angle), s = Math.sin(angle), x = cross(axis, v), d = dot(axis, v) * (1 - c);
      return [0, 1, 2].map((k) => v[k] * c + x[k] * s + axis[k] * d);
    };
    for (const [axis, angle] of [[camera.up, -right], [camera.right, up]]) {
      camera.toward = unit(about(camera.toward, axis, angle));
      camera.up = unit(about(camera.up, axis, angle));
      camera.right = unit(cross(camera.up, camera.toward));
    }
  }

  function pan(right, up) {
    const scale = camera.height / Math.max(canvas.clientHeight, 1);
    camera.centre = [0, 1, 2].map((k) => camera.centre[k] - scale * (right * camera.right[k] + up * camera.up[k]));
  }

  function zoom(factor) {
    camera.height = Math.min(Math.max(camera.height / factor, 0.5), 2000);
  }

  function project(point) {
    const p = [0, 1, 2].map((k) => point[k] - camera.centre[k]);
    const near = camera.distance / (camera.distance - dot(p, camera.toward));
    const scale = canvas.clientHeight / camera.height * near;
    return [0.5 * canvas.clientWidth + scale * dot(p, camera.right), 0.5 * canvas.clientHeight - scale * dot(p, camera.up), scale];
  }

  function extent(list) {
    const axes = [camera.right, camera.up, camera.toward];
    const low = [1e9, 1e9, 1e9], high = [-1e9, -1e9, -1e9];
    for (const tube of list) {
      for (let i = 0; i < tube.points.length / 3; i += 1) {
        const p = [tube.points[3 * i], tube.points[3 * i + 1], tube.points[3 * i + 2]], r = radiusAt(tube, i);
        axes.forEach((axis, k) => {
          const at = dot(axis, p);
          low[k] = Math.min(low[k], at - r);
          high[k] = Math.max(high[k], at + r);
        });
      }
    }
    const middle = axes.map((_, k) => 0.5 * (low[k] + high[k]));
    const centre = [0, 1, 2].map((x) => axes.reduce((sum, axis, k) => sum + axis[x] * middle[k], 0));
    return { centre, size: [high[0] - low[0], high[1] - low[1]] };
  }

  function paper(on) { forPaper = on; }

  function dispose() {
    const lose = gl.getExtension("WEBGL_lose_context");
    if (lose) lose.loseContext();
  }

  return { camera, bounds, isSoftware, setLumen, moveLumen, setWall, setDevices, draw, turn, pan, zoom, project, extent, paper, dispose };
}
