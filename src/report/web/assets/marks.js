// What stands over a picture of view3d.js: names beside the branches, the tip, the largest force, the scale.
//
//   const marks = createMarks(box, canvas, view);     `box` lies over the canvas
//   marks.draw({ key, branches, tip, force });        after view.draw()
//
// `branches`: each { name, target, points, radii }, places in mm; none for no names. `tip`: [x, y, z] or null.
// `force`: { text, point } or null. `key` says which branches they are: names are laid out anew where it, the camera
// or the size of the picture has changed, so that they stand still while a wire moves.
"use strict";

function createMarks(box, canvas, view) {
  // Size in pixels of the cells in which it is noted what is covered.
  const CELL = 6;
  // Distances in pixels of a name from the wall; from the second on a line leads there.
  const GAPS = [5, 22, 44];
  const PLACES = 14;
  // What a name counts where it is covered; a vessel counts 1.
  const NAME = 5;
  // Share of a name's box up to which other things may lie below it.
  const MOST_HIDDEN = 0.08;
  const made = { names: [], tip: null, force: null, scale: null };
  let laid = "";
  let cover = null;
  let corner = 0;

  function element(kind, inside = box) {
    const one = document.createElement(kind === "lead" ? "i" : "span");
    one.className = kind;
    inside.append(one);
    return one;
  }

  function put(one, x, y) {
    one.style.left = `${x.toFixed(1)}px`;
    one.style.top = `${y.toFixed(1)}px`;
  }

  // A thin line from one place to another.
  function lead(line, from, to) {
    const [dx, dy] = [to[0] - from[0], to[1] - from[1]];
    put(line, from[0], from[1]);
    line.style.width = `${Math.hypot(dx, dy).toFixed(1)}px`;
    line.style.transform = `rotate(${Math.atan2(dy, dx).toFixed(4)}rad)`;
  }

  // ---- what is covered

  function emptyCover(width, height) {
    const columns = Math.ceil(width / CELL), rows = Math.ceil(height / CELL);
    return { columns, rows, cells: new Uint8Array(columns * rows) };
  }

  function cellsOf(of, left, top, right, bottom) {
    const within = (v, most) => Math.min(Math.max(Math.floor(v / CELL), 0), most - 1);
    return [within(left, of.columns), within(top, of.rows), within(right, of.columns), within(bottom, of.rows)];
  }

  function coverBox(of, left, top, right, bottom, weight = 1) {
    if (right < 0 || bottom < 0 || left > of.columns * CELL || top > of.rows * CELL) return;
    const [c0, r0, c1, r1] = cellsOf(of, left, top, right, bottom);
    for (let r = r0; r <= r1; r += 1) of.cells.fill(weight, r * of.columns + c0, r * of.columns + c1 + 1);
  }

  function coverDisc(of, x, y, radius) {
    for (let dy = -radius; dy <= radius; dy += CELL) {
      const half = Math.sqrt(Math.max(radius * radius - dy * dy, 0));
      coverBox(of, x - half, y + dy, x + half, y + dy);
    }
  }

  // Share of a box that is covered, names counted as much as they weigh.
  function covered(of, left, top, right, bottom) {
    const [c0, r0, c1, r1] = cellsOf(of, left, top, right, bottom);
    let sum = 0;
    for (let r = r0; r <= r1; r += 1) for (let c = c0; c <= c1; c += 1) sum += of.cells[r * of.columns + c];
    return sum / ((c1 - c0 + 1) * (r1 - r0 + 1));
  }

  // ---- names

  // A branch in the picture: x, y and radius in pixels of each of its points.
  function seen(branch) {
    const count = branch.points.length / 3, out = [];
    for (let i = 0; i < count; i += 1) {
      const p = Array.from(branch.points.slice(3 * i, 3 * i + 3));
      const [x, y, scale] = view.project(p);
      const radius = typeof branch.radii === "number" ? branch.radii : branch.radii[i];
      out.push([x, y, scale * radius]);
    }
    return out;
  }

  // Best place beside a branch for a name of this size: its middle, and where the branch's wall is.
  function beside(line, wide, high, width, height) {
    const margin = 4;
    const inside = line.map((p, i) => [p, i]).filter(([p]) => p[0] > margin && p[1] > margin && p[0] < width - margin && p[1] < height - margin);
    let best = null;
    for (let k = 0; k < Math.min(PLACES, inside.length); k += 1) {
      const [[x, y, radius], i] = inside[Math.floor(((k + 0.5) * inside.length) / Math.min(PLACES, inside.length))];
      const [a, b] = [line[Math.max(i - 1, 0)], line[Math.min(i + 1, line.length - 1)]];
      const long = Math.hypot(b[0] - a[0], b[1] - a[1]);
      const across = long > 0.5 ? [-(b[1] - a[1]) / long, (b[0] - a[0]) / long] : [0, 1];
      for (const way of [across, [-across[0], -across[1]]]) {
        for (const gap of GAPS) {
          const far = radius + gap + Math.abs(way[0]) * wide / 2 + Math.abs(way[1]) * high / 2;
          const [cx, cy] = [x + way[0] * far, y + way[1] * far];
          const edges = [cx - wide / 2, cy - high / 2, cx + wide / 2, cy + high / 2];
          if (edges[0] < margin || edges[1] < margin || edges[2] > width - margin || edges[3] > height - margin) continue;
          const hidden = covered(cover, ...edges);
          const cost = 20 * hidden + gap / 20 + Math.abs((k + 0.5) / Math.min(PLACES, inside.length) - 0.5);
          if (!best || cost < best.cost) best = { cost, hidden, edges, wall: [x + way[0] * radius, y + way[1] * radius], near: gap === GAPS[0] };
        }
      }
    }
    return best;
  }

  function layNames(branches, width, height) {
    cover = emptyCover(width, height);
    const lines = branches.map(seen);
    for (const line of lines) {
      line.forEach(([x, y, radius], i) => {
        const before = line[Math.max(i - 1, 0)];
        const parts = Math.ceil(Math.hypot(x - before[0], y - before[1]) / Math.max(radius, CELL)) || 1;
        for (let k = 1; k <= parts; k += 1) coverDisc(cover, before[0] + (x - before[0]) * k / parts, before[1] + (y - before[1]) * k / parts, radius + 2);
      });
    }
    // Where the scale stands.
    coverBox(cover, 0, height - 34, 150, height);
    while (made.names.length < branches.length) made.names.push({ text: element("name"), line: element("lead") });
    made.names.forEach(({ text, line }, i) => {
      text.hidden = line.hidden = i >= branches.length;
      if (text.hidden) return;
      text.textContent = branches[i].target ? `${branches[i].name} (target)` : branches[i].name;
      text.classList.toggle("target", branches[i].target);
    });
    // The target first, so that its name has the best place.
    const order = branches.map((_, i) => i).sort((a, b) => Number(branches[b].target) - Number(branches[a].target));
    for (const i of order) {
      const { text, line } = made.names[i];
      const found = beside(lines[i], text.offsetWidth, text.offsetHeight, width, height);
      // A name that has no room beside the vessels would hide them, or another name.
      const place = found && found.hidden < MOST_HIDDEN ? found : null;
      text.hidden = !place;
      line.hidden = !place || place.near;
      if (!place) continue;
      const [left, top, right, bottom] = place.edges;
      coverBox(cover, left, top, right, bottom, NAME);
      put(text, left, top);
      if (!place.near) {
        const [wx, wy] = place.wall;
        lead(line, [wx, wy], [Math.min(Math.max(wx, left), right), Math.min(Math.max(wy, top), bottom)]);
      }
    }
  }

  // ---- scale, tip, force

  function layScale(width, height) {
    if (!made.scale) made.scale = element("scale");
    const pixels = height / view.camera.height;
    const mm = [100, 50, 20, 10, 5, 2, 1, 0.5].find((length) => length * pixels < 0.3 * width) || 0.5;
    made.scale.textContent = `${mm} mm`;
    made.scale.style.width = `${(mm * pixels).toFixed(1)}px`;
  }

  function layForce(force, width, height) {
    if (!made.force) made.force = { text: element("force"), line: element("lead force-lead") };
    const { text, line } = made.force;
    const at = force ? view.project(force.point) : null;
    text.hidden = line.hidden = !at || at[0] < 0 || at[1] < 0 || at[0] > width || at[1] > height;
    if (text.hidden) return;
    if (text.textContent !== force.text) text.textContent = force.text;
    const [wide, high] = [text.offsetWidth, text.offsetHeight], [x, y] = at;
    const places = [[16, -16 - high], [-16 - wide, -16 - high], [16, 16], [-16 - wide, 16]].map(([dx, dy]) => [x + dx, y + dy]);
    const cost = ([left, top], k) => (left < 0 || top < 0 || left + wide > width || top + high > height ? 9 : 0)
      + covered(cover, left, top, left + wide, top + high) + (k === corner ? 0 : 0.06);
    corner = places.map((_, k) => k).reduce((best, k) => (cost(places[k], k) < cost(places[best], best) ? k : best), corner);
    const [left, top] = places[corner];
    put(text, left, top);
    lead(line, [x, y], [Math.min(Math.max(x, left), left + wide), Math.min(Math.max(y, top), top + high)]);
  }

  function draw({ key, branches, tip, force }) {
    const [width, height] = [canvas.clientWidth, canvas.clientHeight];
    if (width < 1 || height < 1) return;
    const now = [key, width, height, getComputedStyle(box).fontSize, branches.length, ...Object.values(view.camera)].join();
    if (now !== laid) {
      laid = now;
      layNames(branches, width, height);
      layScale(width, height);
    }
    if (!made.tip) made.tip = element("tip");
    made.tip.hidden = !tip;
    if (tip) put(made.tip, ...view.project(tip));
    layForce(force, width, height);
  }

  return { draw };
}
