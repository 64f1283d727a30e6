// Pages of a lesson: one is shown at a time, the player goes along with it, and keys turn over.
"use strict";

(function () {
  const pages = Array.from(document.querySelectorAll(".page"));
  const carried = document.querySelector(".slot > div");
  const $ = (id) => document.getElementById(id);
  const opening = (number) => pages[number].querySelector("[data-strategy]").dataset;
  let at = -1;

  // ---- slides: everything of a page in the window at once, where that is large enough

  const root = document.documentElement, turn = document.querySelector(".turn"), lead = turn.parentNode;
  const after = turn.nextSibling, switches = document.querySelector(".switches");
  const roomy = window.matchMedia("(min-width: 960px) and (min-height: 540px)");

  function slides(on) {
    root.classList.toggle("slides", on);
    $("slides").setAttribute("aria-pressed", String(on));
    if (on) switches.before(turn); else lead.insertBefore(turn, after);
    window.scrollTo(0, 0);
    window.dispatchEvent(new Event("resize"));
  }

  // Leaves the slides for a section, and stays at it while the pages above it take their new heights.
  function leaveFor(section) {
    const SETTLED_MS = 500;
    slides(false);
    const until = performance.now() + SETTLED_MS;
    const stay = () => {
      section.scrollIntoView();
      if (performance.now() < until && !root.classList.contains("slides")) requestAnimationFrame(stay);
    };
    stay();
  }

  // The rest of the page: inputs, limits of the model, the scenario.
  function linked() {
    const link = document.createElement("a");
    link.id = "rest";
    link.textContent = "What went in, and what the model leaves out";
    const first = document.querySelector("main > section:not(.page)");
    link.href = `#${first.id}`;
    document.querySelector(".caution").append(" ", link);
    const back = document.createElement("button");
    back.type = "button";
    back.id = "back-to-pages";
    back.textContent = "Back to the pages";
    let inSlides = false;
    link.addEventListener("click", (e) => {
      e.preventDefault();
      inSlides = root.classList.contains("slides");
      leaveFor(first);
    });
    back.addEventListener("click", () => slides(inSlides));
    first.prepend(back);
  }

  // ---- the trial of this page, and beside it the same draw on the page before

  // When the picture opens, in s of a trial.
  function opens(shown, number, moment) {
    const trial = shown.data.trials[number], steps = trial.time_s;
    const largest = (values) => steps[values.indexOf(Math.max(...values))];
    if (moment === "start") return 0;
    if (moment === "largest push") return largest(trial.push_mN);
    if (moment === "largest wall force") return largest(trial.wall_mN);
    if (moment === "mouth") return steps[shown.atMouth(number)];
    return shown.state().end;
  }

  function play() {
    const shown = window.bendwisePlayer;
    if (!shown) return;
    const page = opening(at), name = page.strategy;
    const own = shown.data.trials.findIndex((t) => t.strategy === name);
    if (own < 0) return;
    const before = at > 0 ? opening(at - 1).strategy : "";
    const other = shown.data.trials.findIndex((t) => t.strategy === before && t.trial === shown.data.trials[own].trial);
    shown.choose(own, other < 0 ? undefined : other);
    shown.see({
      name: page.view, axes: page.axes ? JSON.parse(page.axes) : null,
      turned: [Number(page.right), Number(page.up)],
    });
    shown.go(opens(shown, own, page.opens));
  }

  function turnTo(number) {
    const to = Math.min(Math.max(number, 0), pages.length - 1);
    if (to === at) return;
    at = to;
    pages.forEach((page, k) => page.classList.toggle("current", k === at));
    root.classList.toggle("first", at === 0);
    $("before").disabled = at === 0;
    $("after").disabled = at === pages.length - 1;
    $("page-at").textContent = `Page ${at + 1} of ${pages.length}`;
    const slot = pages[at].querySelector(".slot");
    if (carried && slot) slot.append(carried);
    pages[at].querySelector(".said").scrollTop = document.body.scrollTop = 0;
    play();
  }

  // A link, or an address with its end, leads to a page.
  function byAddress() {
    const number = pages.findIndex((page) => `#${page.id}` === location.hash);
    if (number >= 0) turnTo(number);
    else if (location.hash) leaveFor(document.getElementById(location.hash.slice(1)) || root);
  }

  root.classList.add("paged");
  linked();
  $("before").addEventListener("click", () => turnTo(at - 1));
  $("after").addEventListener("click", () => turnTo(at + 1));
  $("slides").addEventListener("click", () => slides(!root.classList.contains("slides")));
  document.addEventListener("keydown", (e) => {
    if (e.altKey || e.ctrlKey || e.metaKey) return;
    // In slides also the arrows, where nothing else takes them.
    const isFree = root.classList.contains("slides") && !e.target.closest("input, select, canvas");
    const by = { PageDown: 1, PageUp: -1, ArrowRight: isFree ? 1 : 0, ArrowLeft: isFree ? -1 : 0 }[e.key];
    if (!by) return;
    e.preventDefault();
    turnTo(at + by);
    window.scrollTo(0, 0);
  });
  for (const question of document.querySelectorAll(".question")) {
    question.addEventListener("toggle", () => { if (question.open) question.scrollIntoView({ block: "nearest" }); });
  }
  window.addEventListener("hashchange", byAddress);
  window.addEventListener("bendwise-player", play);
  slides(roomy.matches);
  turnTo(0);
  byAddress();
})();
