// Pages of a lesson: one is shown at a time, the player goes along with it, and keys turn over.
"use strict";

(function () {
  const pages = Array.from(document.querySelectorAll(".page"));
  const carried = document.querySelector(".slot > div");
  const $ = (id) => document.getElementById(id);
  const strategy = (number) => pages[number].querySelector("[data-strategy]").dataset.strategy;
  let at = -1;

  // The trial of this page, and beside it the same draw on the page before.
  function play() {
    const shown = window.bendwisePlayer;
    if (!shown) return;
    const name = strategy(at);
    const own = shown.data.trials.findIndex((t) => t.strategy === name);
    if (own < 0) return;
    const before = at > 0 ? strategy(at - 1) : "";
    const other = shown.data.trials.findIndex((t) => t.strategy === before && t.trial === shown.data.trials[own].trial);
    // All of the vessel, with the wire where it has come to.
    const view = $("view"), whole = Array.from(view.options).findIndex((o) => o.textContent === "whole vessel");
    if (whole >= 0) view.value = view.options[whole].value;
    shown.choose(own, other < 0 ? undefined : other);
    view.dispatchEvent(new Event("change"));
    shown.go(shown.state().end);
  }

  function turnTo(number) {
    const to = Math.min(Math.max(number, 0), pages.length - 1);
    if (to === at) return;
    at = to;
    pages.forEach((page, k) => page.classList.toggle("current", k === at));
    $("before").disabled = at === 0;
    $("after").disabled = at === pages.length - 1;
    $("page-at").textContent = `Page ${at + 1} of ${pages.length}`;
    const slot = pages[at].querySelector(".slot");
    if (carried && slot) slot.append(carried);
    play();
  }

  // A link, or an address with its end, leads to a page.
  function byAddress() {
    const number = pages.findIndex((page) => `#${page.id}` === location.hash);
    if (number >= 0) turnTo(number);
  }

  document.documentElement.classList.add("paged");
  $("before").addEventListener("click", () => turnTo(at - 1));
  $("after").addEventListener("click", () => turnTo(at + 1));
  document.addEventListener("keydown", (e) => {
    if (e.key !== "PageDown" && e.key !== "PageUp") return;
    e.preventDefault();
    turnTo(at + (e.key === "PageDown" ? 1 : -1));
    window.scrollTo(0, 0);
  });
  window.addEventListener("hashchange", byAddress);
  window.addEventListener("bendwise-player", play);
  turnTo(0);
  byAddress();
})();
