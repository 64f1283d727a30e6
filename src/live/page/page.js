"use strict";
// The page of one session: it sends one movement, waits for its moment, and sends the next one when the
// hand would have come so far. Nothing is skipped: a solver that needs longer makes the hand wait.

const $ = (id) => document.getElementById(id);
let scene = null;
let moment = null;
let felt = [];
let socket = null;
let held = null;
let waits = false;
let owed = null;
let stepped = false;
let everything = true;
let cursor = null;
let retry = 250;
let given = false;
const COMPUTED = "the techniques of the study, with each of its wires, are computed on this draw";
// The person has ended the trial: only going back leads on.
let ended = false;
// The moment at which the cursor stands, as it was: asked for one at a time.
let looked = null;
let asked = null;
// The moment to which kept movements have come while they are made again, and when that began.
let replayed = null;
let replaySince = 0;

// ---- connection

function connect() {
  const at = new URL("socket", location.href);
  at.protocol = "ws:";
  socket = new WebSocket(at);
  socket.onmessage = (event) => heard(JSON.parse(event.data));
  socket.onclose = () => {
    waits = false;
    owed = null;
    release();
    if (given) return;
    link("not connected, trying again", true);
    setTimeout(connect, retry);
    retry = Math.min(2 * retry, 4000);
  };
}

function link(text, lost) {
  $("link").textContent = text;
  $("link").className = lost ? "lost" : "";
}

function send(said) {
  if (!socket || socket.readyState !== WebSocket.OPEN) return false;
  socket.send(JSON.stringify(said));
  return true;
}

function heard(said) {
  if (said.hello) {
    const first = scene === null;
    owed = null;
    looked = asked = replayed = null;
    ({ scene, felt, moment, ended } = said.hello);
    // The row of a trial that went on is another trial's.
    if (!ended) clearRows(".own");
    $("replay").hidden = true;
    retry = 250;
    waits = false;
    link("connected", false);
    if (first) build();
    cursor = null;
    shown();
  } else if (said.replaying) {
    replaying(said.replaying);
  } else if (said.looked) {
    const at = asked;
    asked = null;
    if (cursor !== null) {
      looked = { at, moment: said.looked };
      if (cursor !== at) ask();
      shown();
    }
  } else if (said.lesson) {
    turnedOver(said.lesson);
  } else if (said.moment) {
    moment = said.moment;
    felt.length = moment.at;
    felt.push(moment.felt);
    waits = false;
    slow(moment.took_ms);
    $("refused").textContent = "";
    shown();
    after();
  } else if (said.refused !== undefined) {
    waits = false;
    release();
    owed = null;
    $("refused").textContent = said.refused;
    $("refused").className = moment && (moment.reached || ended) ? "told" : "";
  } else if (said.finished) {
    ended = true;
    // Everything of the ended trial follows, and then the hands may go on.
    row(said.finished, true, said.went_back);
    compare();
  } else if (said.comparing) {
    const { done, of, name } = said.comparing;
    $("comparing").textContent = COMPUTED + ": " + done + " of " + of
      + " done, now " + name;
  } else if (said.compared) {
    $("comparing").textContent = "all " + said.compared + " are computed: each technique of the study with each of its wires";
  } else if (said.row) {
    row(said.row, false, 0, said.by_hand);
  } else if (said.gone) {
    given = true;
    link(said.gone, true);
    release();
  }
}

// Kept movements are made again: nothing is sent before all of it is there, and the picture shows how far it is.
function replaying({ done, of, opening, moment: reached }) {
  waits = true;
  if (replayed === null) replaySince = performance.now();
  replayed = reached;
  if (opening) {
    const first = scene === null;
    ({ scene, felt, moment } = opening);
    if (first) build();
  }
  const left = done > 0 ? Math.ceil((performance.now() - replaySince) / 1000 * (of - done) / done) : 0;
  const said = "the kept movements are made again: " + done + " of " + of + (left > 1 ? ", about " + left + " s left" : "");
  link(said, false);
  $("replay").hidden = false;
  $("replay").firstElementChild.textContent = said;
  Object.assign($("replay").lastElementChild, { max: of, value: done });
  if (scene) draw();
}

// The moment that is shown: the last one, or an earlier one at which the cursor stands.
function now() {
  if (replayed) return replayed;
  return cursor !== null && looked ? looked.moment : moment;
}

// Asks for the moment at the cursor; one question at a time.
function ask() {
  if (asked !== null || cursor === null) return;
  asked = cursor;
  if (!send({ look: cursor })) asked = null;
}

function lookAt(at) {
  cursor = at;
  if (cursor === moment.at) return latest();
  told();
  drawCurves();
  ask();
}

// Back to the last moment, from which the hands go on.
function latest() {
  cursor = looked = null;
  if (moment) shown();
}

// ---- pages of a lesson

let page = 0;

// Another page has another scene: all that was built of the one before goes.
function turnedOver(lesson) {
  release();
  page = lesson.at;
  scene = null;
  looked = asked = replayed = cursor = null;
  offered = null;
  still = null;
  for (const id of ["keys", "bars", "refused", "comparing"]) $(id).textContent = "";
  $("rows").hidden = true;
  $("rows").tBodies[0].textContent = "";
  $("lesson").hidden = false;
  document.body.classList.add("lesson");
  $("page-title").textContent = (page + 1) + " of " + lesson.titles.length + ": " + lesson.titles[page];
  // Markup of the program itself, in which every text of a person is escaped.
  $("page-text").firstElementChild.innerHTML = lesson.text;
  $("page-text").scrollTop = 0;
  $("page-before").disabled = page === 0;
  $("page-after").disabled = page === lesson.titles.length - 1;
}

function turnTo(to) {
  // No movement is sent before the other page is there.
  if (waits || !send({ page: to })) return;
  waits = true;
  link("turning over", false);
}
$("page-before").addEventListener("click", () => turnTo(page - 1));
$("page-after").addEventListener("click", () => turnTo(page + 1));

// ---- hands

const HANDS = [
  { id: "feed", text: "push", key: "ArrowUp", line: () => "feed", rate: feedRate },
  { id: "withdraw", text: "withdraw", key: "ArrowDown", line: () => "withdraw", rate: feedRate },
  { id: "left", text: "turn left", key: "ArrowLeft", line: () => turn("turn_deg", -1), rate: turnRate },
  { id: "right", text: "turn right", key: "ArrowRight", line: () => turn("turn_deg", 1), rate: turnRate },
  { id: "catheter-feed", text: "catheter: push", key: "w", line: () => "catheter_feed", rate: feedRate, needs: catheter },
  { id: "catheter-withdraw", text: "catheter: withdraw", key: "s", line: () => "catheter_withdraw", rate: feedRate, needs: catheter },
  { id: "catheter-left", text: "catheter: turn left", key: "a", line: () => turn("catheter_turn_deg", -1), rate: turnRate, needs: catheter },
  { id: "catheter-right", text: "catheter: turn right", key: "d", line: () => turn("catheter_turn_deg", 1), rate: turnRate, needs: catheter },
  { id: "both-feed", text: "both: push", key: "r", line: () => "both_feed", rate: feedRate, needs: catheter },
  { id: "both-withdraw", text: "both: withdraw", key: "f", line: () => "both_withdraw", rate: feedRate, needs: catheter },
  { id: "bend", text: "catheter tip: bend", key: "e", line: () => turn("steer_deg", 1), rate: turnRate, needs: steered },
  { id: "straighten", text: "catheter tip: straighten", key: "q", line: () => turn("steer_deg", -1), rate: turnRate, needs: steered },
  { id: "inflate", text: "balloon: inflate", key: "b", line: () => "inflate", rate: inflationRate, needs: balloon },
  { id: "deflate", text: "balloon: deflate", key: "v", line: () => "deflate", rate: inflationRate, needs: balloon },
  { id: "wait", text: "wait", key: " ", line: () => "wait_s," + scene.hands.wait_s, rate: () => scene.hands.wait_s, needs: moves },
  { id: "change", text: "change the wire", key: "x", line: () => "change_wire", once: true, needs: () => scene.hands.controls.changes_wire },
];

function feedRate() { return scene.hands.feed_mm / scene.hands.feed_mm_per_s; }
function inflationRate() { return scene.hands.inflated_s; }
function balloon() { return scene.hands.controls.has_balloon; }
function turnRate() { return scene.hands.turn_deg / scene.hands.turn_deg_per_s; }
function turn(word, sign) { return word + "," + sign * scene.hands.turn_deg; }
function catheter() { return scene.hands.controls.has_catheter; }
function steered() { return scene.hands.controls.steered_rad !== null; }
function moves() { return moment && moment.seen && moment.seen.rest_in_s !== null; }

let offered = null;
function hands() {
  if (offered) return offered;
  const ways = [];
  for (let k = 1; k <= scene.hands.controls.guide_aims; k++) {
    ways.push({ id: "guide-" + k, text: "point the guide, way " + k, line: () => "point_guide," + k, once: true });
  }
  offered = HANDS.filter((hand) => !hand.needs || hand.needs()).concat(ways);
  return offered;
}

function hold(hand) {
  if (held === hand) return;
  release();
  if (cursor !== null) latest();
  held = hand;
  made = [performance.now()];
  stepped = false;
  if (hand.button) hand.button.classList.add("held");
  step();
}

function release() {
  // A key that was pressed while a moment was waited for has its movement after that.
  if (held && !stepped && waits) owed = held;
  if (held && held.button) held.button.classList.remove("held");
  held = null;
  $("slow").hidden = true;
}

let begun = 0;
function step() {
  const hand = owed || held;
  if (!hand || waits || !moment) return;
  if (hand === held) stepped = true;
  owed = null;
  begun = performance.now();
  waits = send({ move: { line: hand.line(), at: moment.at } });
  if (hand.once && hand === held) release();
}

// The next movement of a hand that is still held, when it is due.
function after() {
  if (owed) return step();
  if (!held || !held.rate) return;
  const due = begun + 1000 * held.rate() - performance.now();
  if (due > 0) setTimeout(step, due);
  else step();
}

// How fast the last movements of a hand that is held were made, against the hand's own speed.
const PACE_OF = 5;
let made = [];
function slow(tookMs) {
  if (!held || !held.rate) { $("slow").hidden = true; return; }
  made = made.concat(performance.now()).slice(-PACE_OF - 1);
  const pace = (1000 * held.rate() * (made.length - 1)) / (made[made.length - 1] - made[0]);
  $("slow").hidden = !(tookMs > 1000 || (made.length > PACE_OF && pace < 0.8));
  $("slow").textContent = "slower than the hand" + (made.length > 1 ? ": " + fixed(pace, pace < 0.1 ? 2 : 1) + " times real time" : "")
    + " (the last movement took " + fixed(tookMs, 0) + " ms to compute); nothing is left out";
}

document.addEventListener("keydown", (event) => {
  if (!$("lesson").hidden && (event.key === "PageDown" || event.key === "PageUp")) {
    event.preventDefault();
    const button = $(event.key === "PageDown" ? "page-after" : "page-before");
    if (!button.disabled) button.click();
    return;
  }
  if (!scene || event.ctrlKey || event.altKey || event.metaKey) return;
  if (event.target.matches("input, button, summary") && event.key === " ") return;
  if (event.target.matches("input[type=range]") && event.key.startsWith("Arrow")) return;
  const hand = hands().find((each) => each.key === event.key || each.key === event.key.toLowerCase());
  if (!hand) return;
  event.preventDefault();
  if (!event.repeat) hold(hand);
});
document.addEventListener("keyup", (event) => {
  if (held && (held.key === event.key || held.key === event.key.toLowerCase())) release();
});
addEventListener("blur", release);
document.addEventListener("visibilitychange", () => { if (document.hidden) release(); });

// ---- what is built once

const SIGNS = { ArrowUp: "↑", ArrowDown: "↓", ArrowLeft: "←", ArrowRight: "→", " ": "space" };

function build() {
  const made = scene.made;
  $("name").textContent = ($("lesson").hidden ? "" : "scenario ") + scene.name;
  document.title = scene.name + ": by hand";
  $("about").textContent = "Reach " + scene.target + " with " + made.wire + ", the devices of \"" + made.technique
    + "\", draw " + made.trial + ", seed " + made.seed + ". Vessel: " + scene.origin + ".";
  for (const hand of hands()) {
    const button = document.createElement("button");
    button.type = "button";
    button.id = "hand-" + hand.id;
    button.textContent = hand.text;
    if (hand.key) {
      const kbd = document.createElement("kbd");
      kbd.textContent = SIGNS[hand.key] || hand.key;
      button.append(kbd);
    }
    button.addEventListener("pointerdown", (event) => { event.preventDefault(); button.setPointerCapture(event.pointerId); hold(hand); });
    for (const end of ["pointerup", "pointercancel", "lostpointercapture"]) button.addEventListener(end, release);
    button.addEventListener("contextmenu", (event) => event.preventDefault());
    // By the keyboard a button is pressed as it is reached by the tabulator: one movement.
    button.addEventListener("click", (event) => { if (event.detail === 0) { hold(hand); release(); } });
    hand.button = button;
    $("keys").append(button);
  }
  bars();
  // All of it first: bend, tip and branch. A browser that cannot draw it shows the projection.
  choose(everything);
}

const BARS = [
  { id: "push", name: "push on the wire", short: "push", unit: "mN", of: (f) => f.push_mn, largest: (f) => f.largest.push_mn, colour: "#1c3468" },
  { id: "torque", name: "torque on the wire", short: "torque", unit: "mN mm", of: (f) => f.torque_mn_mm, largest: (f) => f.largest.torque_mn_mm, colour: "#805c22" },
  { id: "wall", name: "largest force on a mm of wall", short: "wall force", unit: "mN", of: (f) => f.wall_mn, largest: (f) => f.largest.wall_mn, colour: "#b02a30", zero: true },
  { id: "catheter", name: "push on the catheter", short: "catheter push", unit: "mN", of: (f) => f.catheter_push_mn, largest: (f) => f.largest.catheter_push_mn, colour: "#805c7a", needs: catheter },
];

function shownBars() { return BARS.filter((bar) => !bar.needs || bar.needs()); }

function bars() {
  for (const bar of shownBars()) {
    const box = document.createElement("div");
    box.className = "bar";
    const name = document.createElement("div");
    name.className = "name";
    const text = document.createElement("span");
    text.textContent = bar.name;
    bar.value = document.createElement("b");
    bar.value.id = "felt-" + bar.id;
    name.append(text, bar.value);
    bar.track = document.createElement("div");
    bar.track.className = bar.zero ? "track from-zero" : "track";
    bar.fill = document.createElement("i");
    bar.fill.style.background = bar.colour;
    bar.track.append(bar.fill);
    bar.ends = document.createElement("small");
    box.append(name, bar.track, bar.ends);
    $("bars").append(box);
    if (bar.id === "wall" && scene.wall_limit_mn) {
      bar.limit = document.createElement("span");
      bar.limit.className = "limit";
      bar.limit.title = "limit " + scene.wall_limit_mn + " mN";
      bar.track.append(bar.limit);
    }
  }
}

// ---- what changes

// The end of a bar's scale: one for all forces, so that they can be compared; it grows by steps of 1, 2, 5.
function scaleOf(bar) {
  let most = 0;
  for (const other of shownBars().filter((other) => other.unit === bar.unit)) {
    for (const one of felt) most = Math.max(most, Math.abs(other.largest(one)));
    if (other.limit) most = Math.max(most, 1.05 * scene.wall_limit_mn);
  }
  return [5, 10, 20, 50, 100, 200, 500, 1000].find((end) => most <= end) || most;
}

function shown() {
  const one = now();
  const at = one.felt;
  for (const bar of shownBars()) {
    const value = bar.of(at);
    const most = scaleOf(bar);
    const share = Math.min(1, Math.abs(value) / most);
    bar.value.textContent = fixed(value, 2) + " " + bar.unit;
    bar.ends.textContent = (bar.id === "push" && value < -0.05 ? "below 0: the wire draws on the hand; " : "") + (bar.zero ? "0 to " : "-" + most + " to ") + most + " " + bar.unit;
    bar.fill.style.width = (bar.zero ? 100 : 50) * share + "%";
    if (!bar.zero) bar.fill.style.left = value < 0 ? 50 - 50 * share + "%" : "50%";
    if (bar.limit) bar.limit.style.left = 100 * scene.wall_limit_mn / most + "%";
  }
  const seen = one.seen;
  const words = [fixed(at.fed_mm, 1) + " of " + scene.max_fed_mm + " mm of wire are out", "the hand is turned by " + turned(at.hand_deg)];
  if (seen) {
    const before = seen.before_branching_mm;
    words.push("the tip lies " + fixed(Math.abs(before), 1) + " mm " + (before >= 0 ? "before" : "past") + " the branching of " + seen.next_branch);
    if (seen.astray) words.push("it is astray: withdraw");
    if (seen.stopped) words.push("it does not move");
    if (seen.looped) words.push("a loop leads it");
    if (one.to_go_mm && !one.reached) {
      const [deeper, hold] = one.to_go_mm;
      const first = deeper > 0 ? fixed(deeper, 1) + " mm deeper, and then " : "";
      words.push(first === "" && hold === 0 ? "what was fed last did not bring the tip deep enough: feed on, or withdraw"
        : scene.target + " counts as reached after " + first + fixed(hold, 1) + " mm fed on that the tip follows");
    }
    if (seen.rest_in_s !== null) words.push(seen.rest_in_s > 0 ? "the heart rests in " + fixed(seen.rest_in_s, 2) + " s" : "the heart rests");
  }
  if (one.catheter) words.push("catheter " + fixed(one.catheter.outside_mm, 1) + " mm out and turned by " + turned(one.catheter.hand_deg) + ", its tip bent by "
    + fixed(one.catheter.angle_deg, 0) + " deg");
  if (one.balloon_mm !== null) {
    words.push(one.balloon_mm > 0 ? "the balloon is inflated to " + fixed(one.balloon_mm, 1) + " of " + fixed(scene.hands.balloon_mm, 1) + " mm"
      : "the balloon is deflated");
  }
  $("seen").textContent = words.join("; ") + ".";
  const outcome = one.outcome ? one.outcome.replaceAll("_", " ") : "no equilibrium";
  const decided = one.over || one.reached;
  // What a plan would be said to have failed by when it stops is no fault of hands that go on.
  const underWay = !ended && !decided && one.outcome === "stalled" && !(seen && seen.stopped);
  $("outcome").textContent = underWay ? scene.target + " is not reached yet. " + scene.reached_at
    : (decided ? "The trial is decided: " : "If the hands stop here: ") + outcome + (one.why ? ", " + one.why : "") + "."
      + (ended ? " The trial has been ended: go back to an earlier moment to go on from there."
        : decided ? " End it, or go back to an earlier one." : "");
  $("outcome").dataset.outcome = one.reached || one.outcome === "reached" ? "reached" : one.over ? "failed" : "";
  $("finish").disabled = moment.at === 0;
  $("view").dataset.at = moment.at;
  const range = $("cursor");
  range.max = moment.at;
  if (cursor === null || cursor > moment.at) { cursor = null; range.value = moment.at; }
  told();
  draw();
}

function turned(degrees) {
  const whole = Math.round(Math.abs(degrees));
  return whole + " deg" + (whole === 0 ? "" : degrees > 0 ? " right" : " left");
}

function told() {
  const at = cursor === null ? moment.at : cursor;
  const one = felt[at];
  const back = scene.went_back;
  $("moment").textContent = at + " of " + moment.at + " movements, " + fixed(one.fed_mm, 1) + " mm out, " + fixed(one.time_s, 1) + " s"
    + (back > 0 ? "; gone back " + times(back) : "");
  $("earlier").hidden = cursor === null;
  $("earlier").textContent = "as it was after " + at + " of " + moment.at + " movements; hands go on from the last one";
  $("back").disabled = cursor === null || cursor === moment.at;
}

function times(count) { return count + (count === 1 ? " time" : " times"); }

$("cursor").addEventListener("input", () => lookAt(Number($("cursor").value)));
$("back").addEventListener("click", () => {
  if (waits || cursor === null) return;
  $("refused").textContent = "";
  waits = send({ move: { line: "back_to," + cursor, at: moment.at } });
  if (waits) link("going back", false);
});
$("finish").addEventListener("click", () => {
  if (waits) return;
  clearRows("tr");
  waits = send("finish");
});
$("compare").addEventListener("click", () => { clearRows("tr:not(.own)"); compare(); });

function clearRows(which) {
  for (const line of $("rows").tBodies[0].querySelectorAll(which)) line.remove();
}

function compare() {
  if (send("compare")) $("comparing").textContent = COMPUTED;
}
$("one").addEventListener("click", () => choose(false));
$("all").addEventListener("click", () => choose(true));

function choose(all) {
  if (all && !space()) all = false;
  everything = all;
  $("one").setAttribute("aria-pressed", String(!all));
  $("all").setAttribute("aria-pressed", String(all));
  $("view").hidden = all;
  $("space").hidden = $("turns").hidden = $("marks").hidden = !all;
  view();
  draw();
}

function view() {
  $("label").textContent = everything ? "the vessel as it is, the target " + scene.target + " in green; ring: the tip; drag to turn, wheel to zoom"
    : "ring: the tip; " + scene.view.label + (scene.believed ? "; the roadmap as it is believed" : "");
}

// The vessel in space; null where the browser cannot draw it.
let drawn3d = null;
let marks = null;
function space() {
  if (drawn3d) return drawn3d;
  $("space").hidden = false;
  try {
    drawn3d = createView3D($("space"));
    marks = createMarks($("marks"), $("space"), drawn3d);
  } catch (error) {
    $("refused").textContent = error.message;
    $("space").hidden = true;
    return null;
  }
  return drawn3d;
}

// The vessel of the scene, and from where it is first seen.
let lumenOf = null;
let tubes = [];
let fitsTo = "";
function lumen() {
  if (lumenOf === scene) return;
  lumenOf = scene;
  tubes = scene.vessel.map((branch) => ({ ...tube(branch.line), name: branch.name, target: branch.is_target, closed: true }));
  drawn3d.setLumen(tubes);
  const { right, up, along } = scene.square;
  Object.assign(drawn3d.camera, { right, up, toward: along });
  drawn3d.turn(0.3, 0.2);
  fit();
}

// All of the way to the target in the picture, with room for names.
function fit() {
  const ROOM = 48, camera = drawn3d.camera, box = $("space").getBoundingClientRect();
  const seen = drawn3d.extent([tube(scene.frame)]);
  const height = box.height * Math.max(seen.size[0] / (box.width - 2 * ROOM), seen.size[1] / (box.height - ROOM));
  Object.assign(camera, { centre: seen.centre, height, distance: 4 * height });
  fitsTo = box.width + " " + box.height;
}

// What a person has turned or brought nearer stays as it is.
function held3d() { fitsTo = ""; }

function render() {
  drawn3d.draw();
  const one = now();
  const nodes = one.devices.length > 0 ? one.devices[0].nodes : [];
  let most = { force: 0, at: null };
  for (const device of one.devices) {
    device.wall_mn.forEach((force, k) => { if (force > most.force) most = { force, at: device.nodes[k] }; });
  }
  const force = one.felt.wall_mn;
  marks.draw({
    key: scene.name + page, branches: tubes, tip: nodes.length > 0 ? nodes[nodes.length - 1] : null,
    force: most.at && force >= 0.005 ? { text: fixed(force, 2) + " mN", point: most.at } : null,
  });
}

function tube(line) {
  return { points: flatPoints(line), radii: Float32Array.from(line, (p) => p[3]) };
}

function flatPoints(points) { return Float32Array.from(points.flatMap((p) => [p[0], p[1], p[2]])); }

// A body as it is now: a balloon has the same axis in a thinner tube, and none where it is deflated.
function inflated(body) {
  const { balloon_mm } = now();
  if (!body.is_balloon || balloon_mm === null) return body;
  if (balloon_mm <= 0) return { ...body, line: [] };
  const less = (scene.hands.balloon_mm - balloon_mm) / 2;
  return { ...body, line: body.line.map(([x, y, z, r]) => [x, y, z, Math.max(0, r - less)]) };
}

function drawSpace() {
  const three = space();
  if (!three) return;
  const one = now();
  const isNew = lumenOf !== scene;
  lumen();
  const box = $("space").getBoundingClientRect();
  if (fitsTo && fitsTo !== box.width + " " + box.height) fit();
  // Near enough to see bend, tip and what lies around them.
  const NEAR_MM = 36;
  if ($("follow").checked) {
    const nodes = one.devices.length > 0 ? one.devices[0].nodes : [];
    const camera = three.camera;
    if (nodes.length > 0) camera.centre = nodes[nodes.length - 1].slice();
    if (isNew) Object.assign(camera, { height: Math.min(camera.height, NEAR_MM), distance: 4 * Math.min(camera.height, NEAR_MM) });
  }
  if (one.axes) three.moveLumen(one.axes.map(flatPoints));
  const most = Math.max(0.5, ...felt.map((f) => f.wall_mn));
  const bodies = scene.bodies.map(inflated).filter((body) => body.line.length > 0).map((body) => ({
    ...tube(body.line), kind: body.is_balloon ? "balloon" : "body",
  }));
  three.setDevices(bodies.concat(one.devices.flatMap((device) => {
    const thin = Math.min(...device.diameters);
    const covered = device.diameters.findLastIndex((d) => d > 1.3 * thin);
    const part = (from, to, kind) => ({
      points: flatPoints(device.nodes.slice(from, to)),
      radii: Float32Array.from(device.diameters.slice(from, to), (d) => d / 2),
      values: Float32Array.from(device.wall_mn.slice(from, to), (f) => (f > 0.02 * most ? Math.min(1, f / most) : -1)), kind,
    });
    const parts = [];
    if (covered > 0) parts.push(part(0, covered + 1, "catheter"));
    if (device.nodes.length - Math.max(0, covered) > 1) parts.push(part(Math.max(0, covered), device.nodes.length, "wire"));
    return parts;
  })));
  render();
}

// A line of the table: the session of this page, or a technique on the same draw. What hands have made is marked.
function row(one, own, wentBack, byHand) {
  $("rows").hidden = false;
  const line = $("rows").tBodies[0].insertRow();
  if (own) line.className = "own";
  const cells = [own ? "this session" : one.strategy, one.outcome.replaceAll("_", " "), one.attempts,
    fixed(one.travel_mm, 1), fixed(one.turned_deg, 0), fixed(one.time_s, 1),
    fixed(one.peak_push_force_mN, 2), fixed(one.peak_wall_force_mN, 2)];
  for (const cell of cells) line.insertCell().textContent = cell;
  const who = line.cells[0];
  if (own || byHand) {
    const mark = document.createElement("span");
    mark.className = "hand";
    mark.textContent = "by hand";
    who.append(" ", mark);
  }
  if (own && wentBack > 0) {
    const note = document.createElement("small");
    note.textContent = "went back to an earlier moment " + times(wentBack) + "; movements that were taken back are not counted";
    who.append(note);
  }
  if (own) line.dataset.row = JSON.stringify(one);
}

// ---- drawing

function prepared(canvas) {
  const ratio = devicePixelRatio || 1;
  const box = canvas.getBoundingClientRect();
  const [width, height] = [Math.round(box.width * ratio), Math.round(box.height * ratio)];
  if (canvas.width !== width || canvas.height !== height) { canvas.width = width; canvas.height = height; }
  const pen = canvas.getContext("2d");
  pen.setTransform(ratio, 0, 0, ratio, 0, 0);
  pen.clearRect(0, 0, box.width, box.height);
  return [pen, box.width, box.height];
}

const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];

// The target first, so that its beginning lies under the vessel that it leaves.
function branches() {
  const all = scene.believed || scene.vessel;
  return all.filter((branch) => branch.is_target).concat(all.filter((branch) => !branch.is_target));
}

// A picture is drawn when the browser next shows one: moments that come faster wait for no picture.
let isDrawn = true;
function draw() {
  if (!isDrawn) return;
  isDrawn = false;
  requestAnimationFrame(() => {
    isDrawn = true;
    if (!scene) return;
    if (everything) drawSpace();
    else drawProjection();
    drawCurves();
  });
}

// The vessel in the projection, drawn once for each size of the picture.
let still = null;
function vessel(width, height, ratio) {
  if (still && still.width === width && still.height === height && still.ratio === ratio) return still;
  const { right, up } = scene.view;
  const flat = (p) => [dot(right, p), dot(up, p)];
  // The scale is that of the way to the target at rest, so that nothing jumps.
  let [x0, x1, y0, y1] = [Infinity, -Infinity, Infinity, -Infinity];
  for (const p of scene.frame) {
    const [x, y] = flat(p);
    x0 = Math.min(x0, x - p[3]); x1 = Math.max(x1, x + p[3]);
    y0 = Math.min(y0, y - p[3]); y1 = Math.max(y1, y + p[3]);
  }
  const scale = Math.min((width - 40) / (x1 - x0), (height - 40) / (y1 - y0));
  const to = (p) => {
    const [x, y] = flat(p);
    return [width / 2 + scale * (x - (x0 + x1) / 2), height / 2 - scale * (y - (y0 + y1) / 2)];
  };
  const picture = document.createElement("canvas");
  [picture.width, picture.height] = [Math.round(width * ratio), Math.round(height * ratio)];
  const pen = picture.getContext("2d");
  pen.setTransform(ratio, 0, 0, ratio, 0, 0);
  const isIn = ([x, y], reach) => x > -reach && x < width + reach && y > -reach && y < height + reach;
  // Walls first, then lumens, so that branchings are open.
  pen.lineCap = "round";
  for (const [extra, colour] of [[1.5, () => "#ac9894"], [0, (b) => b.is_target ? "#def0e8" : "#faf1ed"]]) {
    for (const branch of branches()) {
      pen.strokeStyle = colour(branch);
      for (let k = 0; k + 1 < branch.line.length; k++) {
        const [a, b] = [branch.line[k], branch.line[k + 1]];
        const [from, on] = [to(a), to(b)];
        const wide = scale * (a[3] + b[3]) + 2 * extra;
        if (!isIn(from, wide) && !isIn(on, wide)) continue;
        pen.lineWidth = wide;
        pen.beginPath();
        pen.moveTo(...from);
        pen.lineTo(...on);
        pen.stroke();
      }
    }
  }
  pen.fillStyle = "#60666e";
  pen.font = "13px system-ui, sans-serif";
  for (const branch of branches()) {
    // At its last place in the picture.
    const last = branch.line.findLast((p) => isIn(to(p), -10));
    if (!last) continue;
    // Beside the vessel, not on its edge.
    const [axis, y] = to(last);
    const x = axis + scale * last[3];
    const text = branch.name + (branch.is_target ? " (target)" : "");
    const wide = pen.measureText(text).width;
    pen.fillText(text, Math.max(4, Math.min(x + 6, width - wide - 4)), Math.max(14, Math.min(y - 4, height - 6)));
  }
  const bar = [50, 20, 10, 5, 2, 1].find((mm) => mm * scale < width / 4) || 1;
  pen.strokeStyle = pen.fillStyle = "#262a30";
  pen.lineWidth = 2;
  pen.beginPath();
  pen.moveTo(12, height - 12);
  pen.lineTo(12 + bar * scale, height - 12);
  pen.stroke();
  pen.fillText(bar + " mm", 12, height - 18);
  still = { width, height, ratio, picture, to, scale };
  return still;
}

function drawProjection() {
  const [pen, width, height] = prepared($("view"));
  const { picture, to, scale } = vessel(width, height, devicePixelRatio || 1);
  pen.drawImage(picture, 0, 0, width, height);
  pen.lineCap = "round";
  // What stands in the lumen: a line through its middles, as wide as it is there.
  for (const body of scene.bodies.map(inflated)) {
    pen.strokeStyle = body.is_balloon ? "#9e86b2" : "#8f979f";
    for (let k = 0; k + 1 < body.line.length; k++) {
      const [a, b] = [body.line[k], body.line[k + 1]];
      pen.lineWidth = scale * (a[3] + b[3]);
      pen.beginPath();
      pen.moveTo(...to(a));
      pen.lineTo(...to(b));
      pen.stroke();
    }
  }
  for (const device of now().devices.slice().reverse()) {
    const nodes = device.on_image || device.nodes;
    for (let k = 0; k + 1 < nodes.length; k++) {
      const thick = device.diameters[k];
      const covered = thick > 1.3 * Math.min(...device.diameters);
      pen.strokeStyle = covered ? "#bf9254" : "#262a30";
      pen.lineWidth = Math.max(covered ? 3 : 1.8, scale * thick);
      pen.beginPath();
      pen.moveTo(...to(nodes[k]));
      pen.lineTo(...to(nodes[k + 1]));
      pen.stroke();
    }
    const tip = to(nodes[nodes.length - 1]);
    pen.strokeStyle = "#c4185c";
    pen.lineWidth = 2;
    pen.beginPath();
    pen.arc(tip[0], tip[1], 7, 0, 7);
    pen.stroke();
  }
}

function drawCurves() {
  if (!scene) return;
  const [pen, width, height] = prepared($("curves"));
  const shown = shownBars();
  const left = 8;
  const wide = (width - 2 * left) / shown.length;
  shown.forEach((bar, place) => {
    const x0 = left + place * wide;
    // Of all steps of a movement the largest, as in the table.
    const values = felt.map(bar.largest);
    let [low, high] = [Math.min(0, ...values), Math.max(0.1, ...values)];
    const x = (k) => x0 + (wide - 16) * (felt.length > 1 ? k / (felt.length - 1) : 0);
    const y = (v) => height - 16 - (height - 52) * (v - low) / (high - low);
    pen.strokeStyle = "#c9cdd2";
    pen.lineWidth = 1;
    pen.beginPath();
    pen.moveTo(x0, y(0)); pen.lineTo(x0 + wide - 16, y(0));
    pen.stroke();
    pen.strokeStyle = bar.colour;
    pen.lineWidth = 1.6;
    pen.beginPath();
    values.forEach((v, k) => (k ? pen.lineTo(x(k), y(v)) : pen.moveTo(x(k), y(v))));
    pen.stroke();
    const at = cursor === null ? felt.length - 1 : cursor;
    pen.strokeStyle = "#c4185c";
    pen.lineWidth = 1;
    pen.beginPath();
    pen.moveTo(x(at), 24); pen.lineTo(x(at), height - 8);
    pen.stroke();
    pen.fillStyle = bar.colour;
    pen.font = "13px system-ui, sans-serif";
    pen.fillText(bar.short + ": " + fixed(values[at], 2) + " " + bar.unit, x0, 16);
    // The ends of the scale, and what runs to the right.
    pen.fillStyle = "#60666e";
    pen.font = "11px system-ui, sans-serif";
    const number = (v) => (v === 0 ? "0" : fixed(v, 2));
    pen.fillText(number(high) + " " + bar.unit, x0 + 2, y(high) - 2);
    pen.fillText("0", x0 + 2, y(0) + (low < 0 ? -2 : 11));
    // Where the low end lies beside 0, only 0 fits.
    if (y(low) - y(0) > 12) pen.fillText(number(low), x0 + 2, y(low) + 10);
    const end = felt.length - 1 + " movements";
    pen.fillText(end, x0 + wide - 18 - pen.measureText(end).width, height - 1);
  });
}

$("curves").addEventListener("pointerdown", (event) => {
  const box = $("curves").getBoundingClientRect();
  const wide = (box.width - 16) / shownBars().length;
  const within = ((event.clientX - box.left - 8) % wide) / (wide - 16);
  if (!moment || replayed) return;
  const at = Math.round(Math.min(1, Math.max(0, within)) * (felt.length - 1));
  $("cursor").value = at;
  lookAt(at);
});

for (const [id, act] of [
  ["nearer", (v) => v.zoom(1.25)], ["farther", (v) => v.zoom(0.8)],
  ["turn-left", (v) => v.turn(-0.2, 0)], ["turn-right", (v) => v.turn(0.2, 0)],
  ["turn-up", (v) => v.turn(0, -0.2)], ["turn-down", (v) => v.turn(0, 0.2)],
]) {
  $(id).addEventListener("click", () => { if (drawn3d) { act(drawn3d); held3d(); draw(); } });
}
$("follow").addEventListener("change", () => { lumenOf = null; draw(); });

let drag = null;
$("space").addEventListener("pointerdown", (event) => {
  drag = { x: event.clientX, y: event.clientY };
  $("space").setPointerCapture(event.pointerId);
});
$("space").addEventListener("pointermove", (event) => {
  if (!drag || !drawn3d) return;
  drawn3d.turn(0.008 * (event.clientX - drag.x), -0.008 * (event.clientY - drag.y));
  drag = { x: event.clientX, y: event.clientY };
  held3d();
  render();
});
addEventListener("pointerup", () => { drag = null; });
$("space").addEventListener("wheel", (event) => {
  event.preventDefault();
  drawn3d.zoom(Math.exp(-0.001 * event.deltaY));
  held3d();
  render();
}, { passive: false });
addEventListener("resize", () => { if (moment) draw(); });

connect();
