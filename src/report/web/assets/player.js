// Plays recorded trials: one clock for both panes, a picture of each by view3d.js with what marks.js puts over it, a
// cursor in its curves.
// `window.bendwisePlayer` tells what is shown, for tests and for whoever opens the console.
"use strict";

// After the page has been drawn: it can be read while the picture is made ready.
window.addEventListener("load", () => setTimeout(() => {
  const data = JSON.parse(document.getElementById("playback").textContent);
  const $ = (id) => document.getElementById(id);
  const LEAST_MN = 1e-3, RANGE = 1e7;
  const forceOf = Float32Array.from({ length: 256 }, (_, b) => (b === 0 ? 0 : LEAST_MN * RANGE ** ((b - 1) / 254)));

  function bytes(text) {
    const raw = atob(text), out = new Uint8Array(raw.length);
    for (let i = 0; i < raw.length; i += 1) out[i] = raw.charCodeAt(i);
    return out;
  }
  const words = (text) => new Uint16Array(bytes(text).buffer);
  function places(scene, numbers, first, count) {
    const out = new Float32Array(3 * count);
    for (let i = 0; i < 3 * count; i += 1) out[i] = scene.low_mm[i % 3] + scene.step_mm * numbers[3 * first + i];
    return out;
  }
  const scenes = data.scenes.map((scene) => {
    const tube = (t) => {
      const numbers = words(t.points);
      return { ...t, points: places(scene, numbers, 0, numbers.length / 3), radii: Float32Array.from(t.radii_mm) };
    };
    return {
      ...scene, branches: scene.branches.map(tube), bodies: scene.bodies.map(tube),
      near: { points: Float32Array.from(scene.near.flatMap((p) => p.slice(0, 3))), radii: Float32Array.from(scene.near, (p) => p[3]) },
      balloons: new Map(scene.balloons.map(([technique, t]) => [technique, tube(t)])),
    };
  });

  // A trial is unpacked when it is first shown.
  const unpacked = new Map();
  function trial(number) {
    if (!unpacked.has(number)) {
      const t = data.trials[number];
      const counts = words(t.counts), firsts = new Uint32Array(counts.length);
      for (let i = 1; i < counts.length; i += 1) firsts[i] = firsts[i - 1] + counts[i - 1];
      unpacked.set(number, {
        ...t, scene: scenes[t.scene], counts, firsts, places: words(t.places), forces: bytes(t.forces), sizes: bytes(t.sizes),
        axes: t.axes ? words(t.axes) : null, end: t.time_s[t.time_s.length - 1],
      });
    }
    return unpacked.get(number);
  }

  // The step at or before a time, and how far the next one is reached.
  function stepAt(t, time) {
    const all = t.time_s;
    let low = 0, high = all.length - 1;
    while (low < high) {
      const middle = Math.ceil((low + high) / 2);
      if (all[middle] <= time + 1e-9) low = middle; else high = middle - 1;
    }
    const next = Math.min(low + 1, all.length - 1), gap = all[next] - all[low];
    return { step: low, next, share: gap > 0 ? Math.min(Math.max((time - all[low]) / gap, 0), 1) : 0 };
  }
  const between = (values, at) => values[at.step] + at.share * (values[at.next] - values[at.step]);

  // Points of line 0 (the wire) or 1 (beside it) at a time: material points, so that those that both steps
  // have go straight from one place to the other.
  function line(t, which, at) {
    const a = 2 * at.step + which, b = 2 * at.next + which;
    const near = at.share < 0.5 ? a : b;
    const count = t.counts[near], first = t.firsts[near];
    const scene = t.scene, points = places(scene, t.places, first, count);
    const common = Math.min(t.counts[a], t.counts[b]) - 1;
    for (let i = 0; i < Math.min(common, count); i += 1) {
      for (let k = 0; k < 3; k += 1) {
        const from = t.places[3 * (t.firsts[a] + i) + k], to = t.places[3 * (t.firsts[b] + i) + k];
        points[3 * i + k] = scene.low_mm[k] + scene.step_mm * (from + at.share * (to - from));
      }
    }
    const forces = new Float32Array(count), radii = new Float32Array(count), thick = new Uint8Array(count);
    for (let i = 0; i < count; i += 1) {
      forces[i] = forceOf[t.forces[first + i]];
      radii[i] = t.diameters_mm[t.sizes[first + i]] / 2;
      thick[i] = t.catheter[t.sizes[first + i]] ? 1 : 0;
    }
    return { points, forces, radii, thick, count };
  }

  // The pieces of a line of one kind, as devices of the view; tip first.
  function devicesOf(l) {
    const list = [];
    let from = 0;
    for (let i = 1; i <= l.count; i += 1) {
      if (i < l.count && l.thick[i] === l.thick[from]) continue;
      const to = Math.min(i + 1, l.count);
      const values = Float32Array.from(l.forces.slice(from, to), (f) => (f > 0 ? f / data.scale_mN : -1));
      const radii = l.radii.slice(from, to);
      if (to > i) radii[to - from - 1] = radii[Math.max(to - from - 2, 0)];
      list.push({ points: l.points.slice(3 * from, 3 * to), radii, values, kind: l.thick[from] ? "catheter" : "wire" });
      from = i;
    }
    return list;
  }

  function movedLumen(t, at) {
    const scene = t.scene, branches = scene.branches, stride = scene.axis_stride;
    const kept = branches.map((b) => { const n = b.points.length / 3; return Math.floor((n - 1) / stride) + 1 + ((n - 1) % stride ? 1 : 0); });
    const all = kept.reduce((a, b) => a + b, 0);
    let before = 0;
    return branches.map((b, number) => {
      const n = b.points.length / 3, out = new Float32Array(3 * n);
      const knot = (j) => Math.min(j * stride, n - 1);
      const shift = (j, k) => {
        const place = (step) => scene.low_mm[k] + scene.step_mm * t.axes[3 * (step * all + before + j) + k];
        const now = place(at.step) + at.share * (place(at.next) - place(at.step));
        return now - b.points[3 * knot(j) + k];
      };
      for (let i = 0; i < n; i += 1) {
        const j = Math.min(Math.floor(i / stride), Math.max(kept[number] - 2, 0));
        const width = knot(j + 1) - knot(j), s = width > 0 ? (i - knot(j)) / width : 0;
        for (let k = 0; k < 3; k += 1) {
          out[3 * i + k] = b.points[3 * i + k] + (kept[number] > 1 ? (1 - s) * shift(j, k) + s * shift(j + 1, k) : shift(0, k));
        }
      }
      before += kept[number];
      return out;
    });
  }

  const clock = { time: 0, end: 1, playing: false, last: 0 };
  const panes = [];

  function makePane(number) {
    const canvas = $(`canvas-${number}`);
    const view = createView3D(canvas);
    const marks = createMarks($(`marks-${number}`), canvas, view);
    // `fits`: for which size and layout it was last seen whole; empty where a hand has moved it.
    const pane = { number, canvas, view, marks, shown: -1, cursor: null, fits: "" };
    let drag = null;
    canvas.addEventListener("pointerdown", (e) => { drag = [e.clientX, e.clientY]; canvas.setPointerCapture(e.pointerId); });
    canvas.addEventListener("pointermove", (e) => {
      if (!drag) return;
      const [dx, dy] = [e.clientX - drag[0], e.clientY - drag[1]];
      drag = [e.clientX, e.clientY];
      if (e.shiftKey || e.buttons === 4) everyView((v) => v.pan(dx, -dy)); else everyView((v) => v.turn(0.008 * dx, 0.008 * dy));
      free();
    });
    canvas.addEventListener("pointerup", () => { drag = null; });
    canvas.addEventListener("wheel", (e) => { e.preventDefault(); everyView((v) => v.zoom(Math.exp(-0.0012 * e.deltaY))); held(); show(); }, { passive: false });
    canvas.addEventListener("keydown", (e) => {
      const turns = { ArrowLeft: [-0.12, 0], ArrowRight: [0.12, 0], ArrowUp: [0, -0.12], ArrowDown: [0, 0.12] };
      if (turns[e.key]) everyView((v) => v.turn(...turns[e.key]));
      else if (e.key === "+" || e.key === "=") everyView((v) => v.zoom(1.2));
      else if (e.key === "-") everyView((v) => v.zoom(1 / 1.2));
      else return;
      e.preventDefault();
      free();
    });
    return pane;
  }

  const everyView = (act) => panes.forEach((p) => act(p.view));
  const held = () => panes.forEach((p) => { p.fits = ""; });
  function free() { $("view").value = "free"; held(); show(); }

  // A view of a page of its own: that of the scene with this beginning of its name, in other directions where it has
  // some, and turned by degrees.
  let own = null;
  function ownView(views) {
    const named = views.find((v) => v.name.startsWith(own.name)) || (own.axes && views.find((v) => v.distance < 0));
    return { ...(named || views[0]), ...own.axes };
  }

  // Distance of the eye where nothing says it, in heights of the picture; room in pixels around what is seen, for names.
  const EYE = 4, ROOM = [24, 20];

  // Width and height in pixels for which a picture is fitted. Pages of a lesson that show the same vessel show it
  // equally large, with one trial and with two: each is fitted as if there were two, below the words of the first page.
  function size(pane) {
    const stage = () => [pane.canvas.clientWidth, pane.canvas.clientHeight];
    if (!own) return stage();
    const [all, other, root] = [$("panes"), $("pane-2"), document.documentElement];
    const [isTwo, isHidden, isFirst] = [all.classList.contains("two"), other.hidden, root.classList.contains("first")];
    all.classList.add("two");
    other.hidden = false;
    root.classList.add("first");
    const least = stage();
    all.classList.toggle("two", isTwo);
    other.hidden = isHidden;
    root.classList.toggle("first", isFirst);
    return stage().map((length, k) => Math.min(length, least[k]));
  }

  // What of a scene a view shows whole.
  function whole(scene, v) {
    if (v.near) return [scene.near];
    const p = scene.guide_mm;
    return [...scene.branches.filter((b) => b.joined), { points: Float32Array.from(p), radii: 1 }];
  }

  // Each pane looks at its own scene; a free view stays.
  function setView(of) {
    const number = $("view").value === "free" ? 0 : $("view").value;
    const isOwn = number === "own" && own;
    const viewOf = (scene) => (isOwn ? ownView(scene.views) : scene.views[Math.min(Number(number), scene.views.length - 1)]);
    for (const pane of of) {
      const scene = pane.shown < 0 ? scenes[0] : trial(pane.shown).scene, camera = pane.view.camera;
      const look = (v) => {
        Object.assign(camera, { right: v.right.slice(), up: v.up.slice(), toward: v.toward.slice() });
        if (isOwn) pane.view.turn(...own.turned.map((degrees) => (degrees * Math.PI) / 180));
      };
      const sizes = panes.filter((p) => p.shown >= 0 || p === pane).map(size);
      const [width, height] = [0, 1].map((k) => Math.min(...sizes.map((s) => s[k]))).map((length, k) => Math.max(length - 2 * ROOM[k], 0.5 * length));
      // One scale for all scenes of the page.
      const mm = Math.max(...scenes.map((other) => {
        look(viewOf(other));
        const seen = pane.view.extent(whole(other, viewOf(other))).size;
        return Math.max(seen[0] / width, seen[1] / height);
      }));
      const v = viewOf(scene);
      look(v);
      camera.centre = pane.view.extent(whole(scene, v)).centre;
      camera.height = mm * pane.canvas.clientHeight;
      camera.distance = v.distance || EYE * camera.height;
      pane.fits = fitted();
    }
  }

  const fitted = () => [...panes.flatMap((p) => [p.shown >= 0, p.canvas.clientWidth, p.canvas.clientHeight]), Boolean(own)].join();

  // The step at which the tip is nearest to the target's mouth when it first comes within reach of it.
  function atMouth(number) {
    const REACH_MM = 6;
    const t = trial(number), mouth = t.scene.mouth_mm;
    const far = t.time_s.map((_, step) => {
      const tip = places(t.scene, t.places, t.firsts[2 * step], 1);
      return Math.hypot(tip[0] - mouth[0], tip[1] - mouth[1], tip[2] - mouth[2]);
    });
    const first = far.findIndex((mm) => mm < REACH_MM);
    if (first < 0) return far.indexOf(Math.min(...far));
    const left = far.findIndex((mm, step) => step > first && mm >= REACH_MM);
    const stay = far.slice(first, left < 0 ? far.length : left);
    return first + stay.indexOf(Math.min(...stay));
  }

  // Where a pane gets another scene it looks as the other pane does at the same one, else as the view says.
  function looked(pane, scene) {
    if (pane.sceneOf === scene) return;
    pane.sceneOf = scene;
    const other = panes.find((p) => p !== pane && p.sceneOf === scene);
    pane.fits = other ? other.fits : "";
    if (other) Object.assign(pane.view.camera, JSON.parse(JSON.stringify(other.view.camera)));
    else setView([pane]);
  }

  // Puts a trial into a pane.
  function put(pane, number) {
    const t = trial(number), scene = t.scene;
    pane.shown = number;
    $(`name-${pane.number}`).textContent = `${t.strategy}, trial ${t.trial}: ${t.outcome}`;
    const box = $(`chart-${pane.number}`);
    box.innerHTML = t.chart;
    const svg = box.querySelector("svg");
    pane.cursor = null;
    if (svg) {
      const [, , width, height] = svg.getAttribute("viewBox").split(/[ ,]+/).map(Number);
      svg.removeAttribute("width");
      svg.removeAttribute("height");
      box.style.setProperty("--shape", width / height);
      svg.setAttribute("role", "img");
      svg.setAttribute("aria-label", "Push and wall force against time, and what the hands do");
      const cursor = document.createElementNS("http://www.w3.org/2000/svg", "line");
      cursor.setAttribute("class", "cursor");
      cursor.setAttribute("y1", 0);
      cursor.setAttribute("y2", height);
      svg.append(cursor);
      pane.cursor = { line: cursor, left: scene.chart_edges[0] * width, right: scene.chart_edges[1] * width };
      svg.addEventListener("click", (e) => {
        const share = (e.clientX - svg.getBoundingClientRect().left) / svg.getBoundingClientRect().width;
        const [a, b] = scene.chart_edges;
        go(t.end * Math.min(Math.max((share - a) / (b - a), 0), 1));
      });
    }
    const scaled = scene.branches.map((b) => ({ ...b, radii: b.radii.map((r) => r * t.diameter_factor) }));
    pane.view.setLumen(scaled);
    if (scene.wall && !t.axes) pane.view.setWall(...wall(scene));
    looked(pane, scene);
    clock.end = Math.max(...panes.filter((p) => p.shown >= 0).map((p) => trial(p.shown).end), 0.01);
    $("time").max = clock.end;
    go(Math.min(clock.time, clock.end));
  }

  function wall(scene) {
    const numbers = words(scene.wall.points);
    return [places(scene, numbers, 0, numbers.length / 3), new Uint32Array(bytes(scene.wall.triangles).buffer)];
  }

  function guide(t) {
    const p = t.scene.guide_mm, w = t.scene.guide_way;
    const points = new Float32Array(6);
    for (let k = 0; k < 3; k += 1) { points[k] = p[k] - 8 * w[k]; points[3 + k] = p[k]; }
    return { points, radii: 0.9, kind: "guide" };
  }

  function drawPane(pane) {
    const t = trial(pane.shown), at = stepAt(t, Math.min(clock.time, t.end));
    const { branches, bodies, balloons } = t.scene;
    const wire = line(t, 0, at), beside = line(t, 1, at);
    const devices = [...devicesOf(wire), ...devicesOf(beside), guide(t)];
    for (const body of bodies) devices.push({ points: body.points, radii: body.radii, kind: "body" });
    const balloon = balloons.get(t.technique);
    if (balloon) {
      const full = Math.max(...balloon.radii), less = t.balloon_mm ? full - between(t.balloon_mm, at) / 2 : 0;
      const radii = balloon.radii.map((r) => Math.max(r - less, 0));
      if (less < full) devices.push({ points: balloon.points, radii, kind: "balloon" });
    }
    pane.view.setDevices(devices);
    let lumen = branches.map((b) => b.points);
    if (t.axes) { lumen = movedLumen(t, at); pane.view.moveLumen(lumen); }
    pane.tip = Array.from(wire.points.slice(0, 3));
    if (pane.fits && pane.fits !== fitted()) setView([pane]);
    if ($("follow").checked) pane.view.camera.centre = pane.tip.slice();
    pane.view.draw();
    mark(pane, t, at, [wire, beside]);
    pane.at = at;
    if (pane.cursor) {
      const x = pane.cursor.left + (pane.cursor.right - pane.cursor.left) * Math.min(clock.time / Math.max(t.end, 1e-9), 1);
      pane.cursor.line.setAttribute("x1", x);
      pane.cursor.line.setAttribute("x2", x);
      pane.cursor.time = Math.min(clock.time, t.end);
    }
    caption(pane, t, at);
  }

  // Names, tip, and the largest force with its number.
  function mark(pane, t, at, lines) {
    let best = [0, null];
    for (const l of lines) {
      for (let i = 0; i < l.count; i += 1) if (l.forces[i] > best[0]) best = [l.forces[i], Array.from(l.points.slice(3 * i, 3 * i + 3))];
    }
    const wallForce = between(t.wall_mN, at);
    pane.marks.draw({
      key: pane.shown, tip: pane.tip, branches: $("names").checked ? t.scene.branches : [],
      force: best[1] && wallForce > 0 ? { text: `${digits(wallForce)} mN`, point: best[1] } : null,
    });
  }

  const digits = (v) => fixed(v, Math.abs(v) >= 100 ? 0 : Math.abs(v) >= 10 ? 1 : 2);

  function caption(pane, t, at) {
    const isEnd = clock.time >= t.end - 1e-9;
    const nearest = at.share < 0.5 ? at.step : at.next;
    const action = t.actions.find((a) => a.to > at.step && a.from <= at.step);
    const parts = [`${Math.min(clock.time, t.end).toFixed(1)} s, attempt ${t.attempt[nearest]}: `];
    parts.push(isEnd ? "end" : action ? `under way: ${action.said.charAt(0).toLowerCase()}${action.said.slice(1)} in all` : "the hands rest");
    parts.push(`; ${t.where_said[t.where_at[nearest]]}; ${fixed(between(t.fed_mm, at), 1)} mm of wire out, hand at ${fixed(between(t.hand_deg, at), 0)} degrees; push ${digits(between(t.push_mN, at))} mN, largest wall force ${digits(between(t.wall_mN, at))} mN.`);
    const box = $(`caption-${pane.number}`);
    const text = parts.join("");
    const key = text + isEnd;
    if (box.dataset.key === key) return;
    box.dataset.key = key;
    const now = document.createElement("span");
    now.textContent = text;
    box.replaceChildren(now);
    if (isEnd) {
      const why = document.createElement("strong");
      why.textContent = ` ${t.ending}`;
      box.append(why);
    }
  }

  function show() {
    for (const pane of panes) if (pane.shown >= 0) drawPane(pane);
    $("time").value = clock.time;
    const step = panes[0].at;
    $("clock").textContent = `${clock.time.toFixed(1)} s, step ${step.step + 1} of ${trial(panes[0].shown).time_s.length}`;
    $("time").setAttribute("aria-valuetext", `${clock.time.toFixed(1)} seconds`);
  }

  function go(time) { clock.time = Math.min(Math.max(time, 0), clock.end); show(); }

  function play(on) {
    clock.playing = on;
    $("play").textContent = on ? "Pause" : "Play";
    if (!on) return;
    if (clock.time >= clock.end - 1e-9) clock.time = 0;
    clock.last = performance.now();
    requestAnimationFrame(frame);
  }

  function frame(now) {
    if (!clock.playing) return;
    const passed = Math.max(now - clock.last, 0) / 1000;
    clock.last = now;
    player.frames += 1;
    go(clock.time + passed * Number($("speed").value));
    if (clock.time >= clock.end - 1e-9) play(false); else requestAnimationFrame(frame);
  }

  function stepBy(by) {
    play(false);
    const t = trial(panes[0].shown), at = stepAt(t, clock.time);
    const exact = Math.abs(t.time_s[at.step] - clock.time) < 1e-6;
    let step = by > 0 ? at.step + 1 : exact ? at.step - 1 : at.step;
    step = Math.min(Math.max(step, 0), t.time_s.length - 1);
    // Steps at the same time are one to the clock.
    while (step > 0 && step < t.time_s.length - 1 && Math.abs(t.time_s[step] - clock.time) < 1e-6) step += by;
    go(t.time_s[step]);
  }

  function second(value) {
    const on = value !== "";
    $("pane-2").hidden = !on;
    $("panes").classList.toggle("two", on);
    if (on && panes.length < 2) panes.push(makePane(2));
    if (!on && panes.length > 1) panes[1].shown = -1;
    if (on) put(panes[1], Number(value)); else put(panes[0], panes[0].shown);
  }

  function legend() {
    const rgb = (c) => `rgb(${c.join()})`;
    const stops = view3DScale(), box = $("legend");
    const add = (text, style) => {
      const span = document.createElement("span");
      if (style) { const s = document.createElement("span"); s.className = "swatch"; s.style.background = style; span.append(s, " "); }
      span.append(text);
      box.append(span);
    };
    const stripes = (c, width, light) => `repeating-linear-gradient(90deg, ${light ? "#fff9" : "#0009"} 0 ${0.3 * width}px, transparent ${0.3 * width}px ${width}px), ${rgb(c)}`;
    const top = data.scale_mN, part = (x) => digits(x * top);
    add("\u25ef tip");
    add("Wall force on a millimetre:");
    add("no contact", "rgb(128,136,146)");
    add(`up to ${part(0.25)} mN`, `linear-gradient(90deg, ${rgb(stops[0])}, ${rgb(stops[1])})`);
    add(`to ${part(0.5)} mN`, stripes(stops[2], 20, false));
    add(`to ${part(0.75)} mN`, stripes(stops[3], 10, true));
    add(`to ${part(1)} mN and more`, stripes(stops[4], 5, true));
    if (data.trials.some((t) => t.catheter.some(Boolean))) add("catheter, where it does not press", "rgb(176,160,132)");
    if (scenes.some((scene) => scene.balloons.size > 0)) add("balloon", "rgb(158,134,178)");
  }

  const player = {
    frames: 0, data,
    state: () => ({
      time: clock.time, end: clock.end, playing: clock.playing,
      panes: panes.filter((p) => p.shown >= 0).map((p) => ({
        trial: p.shown, step: p.at.step, tip: p.tip, cursor: p.cursor ? p.cursor.time : null,
        push: between(trial(p.shown).push_mN, p.at), wall: between(trial(p.shown).wall_mN, p.at),
        software: p.view.isSoftware, mm_per_pixel: p.view.camera.height / p.canvas.clientHeight,
      })),
    }),
    go, atMouth,
    // Sees as a page says: a named view, other directions or null, and how far it is turned.
    see: (page) => {
      own = page;
      const turned = page.turned.some((degrees) => degrees !== 0);
      if (!$("view").querySelector("option[value=own]")) $("view").prepend(new Option("", "own"));
      $("view").options[0].textContent = `as the page says: ${page.name}${turned ? ", turned" : ""}`;
      $("view").value = "own";
      setView(panes);
      show();
    },
    // Puts one trial, and a second one or none, from their beginning.
    choose: (one, other) => {
      play(false);
      clock.time = 0;
      $("first").value = String(one);
      $("second").value = other === undefined ? "" : String(other);
      panes[0].shown = one;
      second($("second").value);
      put(panes[0], one);
    },
  };

  try {
    panes.push(makePane(1));
  } catch (error) {
    const box = $("no-player");
    box.hidden = false;
    box.textContent = error.message;
    return;
  }
  $("first").addEventListener("change", (e) => put(panes[0], Number(e.target.value)));
  $("second").addEventListener("change", (e) => second(e.target.value));
  $("view").addEventListener("change", () => { if ($("view").value !== "free") setView(panes); show(); });
  $("play").addEventListener("click", () => play(!clock.playing));
  $("back").addEventListener("click", () => stepBy(-1));
  $("forward").addEventListener("click", () => stepBy(1));
  $("start").addEventListener("click", () => { play(false); go(0); });
  $("end").addEventListener("click", () => { play(false); go(clock.end); });
  $("time").addEventListener("input", (e) => { play(false); go(Number(e.target.value)); });
  const press = (id, act) => $(id).addEventListener("click", () => { everyView(act); held(); if (id.startsWith("turn")) free(); else show(); });
  press("nearer", (v) => v.zoom(1.25));
  press("farther", (v) => v.zoom(0.8));
  press("turn-left", (v) => v.turn(-0.2, 0));
  press("turn-right", (v) => v.turn(0.2, 0));
  press("turn-up", (v) => v.turn(0, -0.2));
  press("turn-down", (v) => v.turn(0, 0.2));
  $("follow").addEventListener("change", show);
  $("names").addEventListener("change", show);
  window.addEventListener("resize", show);
  // Paper gets the picture as it stands, in the size that it has there: a copy, because a drawing by WebGL is gone
  // before the page is printed.
  const onPaper = (on) => {
    document.documentElement.classList.toggle("printing", on);
    everyView((v) => v.paper(on));
    show();
    for (const pane of panes) {
      if (pane.copy) pane.copy.remove();
      pane.copy = null;
      if (!on || pane.shown < 0) continue;
      pane.copy = document.createElement("canvas");
      pane.copy.className = "copy";
      Object.assign(pane.copy, { width: pane.canvas.width, height: pane.canvas.height });
      pane.view.draw();
      pane.copy.getContext("2d").drawImage(pane.canvas, 0, 0);
      pane.canvas.after(pane.copy);
    }
  };
  window.addEventListener("beforeprint", () => onPaper(true));
  window.addEventListener("afterprint", () => onPaper(false));
  legend();
  // A success is shown first where there is one.
  const first = Math.max(data.trials.findIndex((t) => t.outcome === "reached"), 0);
  $("first").value = String(first);
  put(panes[0], first);
  window.bendwisePlayer = player;
  window.dispatchEvent(new Event("bendwise-player"));
}, 0));
