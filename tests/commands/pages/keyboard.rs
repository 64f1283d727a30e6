//! A keyboard alone reaches everything on the page and works it.

use std::collections::BTreeSet;

use serde_json::json;

use super::driver::Browser;
use super::study::main_job_opened;

/// Code of the tabulator key.
const TAB: u32 = 9;
/// Code of the enter key.
const ENTER: u32 = 13;

/// What may be worked and is seen, each with a number of its own.
const NUMBERED: &str = "(() => { const all = document.querySelectorAll('a[href], button, select, input, summary, \
                        [tabindex=\"0\"]'); let n = 0; for (const e of all) if (e.checkVisibility()) \
                        e.dataset.reach = n++; return n; })()";

#[test]
fn the_tabulator_key_reaches_everything() {
    let Some(mut browser) = main_job_opened() else {
        return;
    };
    browser.eval("document.querySelector('details.inputs').open = true");
    expect_all_reached(&mut browser, 60);
}

/// Fails unless there are more than so many things to work on a page and the tabulator key reaches them all.
pub fn expect_all_reached(browser: &mut Browser, more_than: usize) {
    let all = browser.count(NUMBERED);
    assert!(all > more_than, "{all} things to work");
    let mut reached = BTreeSet::new();
    for _ in 0..all + 10 {
        browser.press("Tab", TAB, "");
        let at = browser.eval("document.activeElement.dataset.reach ?? ''");
        reached.insert(at.as_str().unwrap_or_default().to_owned());
    }
    let missed: Vec<usize> = (0..all)
        .filter(|n| !reached.contains(&n.to_string()))
        .collect();
    let first = missed.first().map_or(json!(null), |n| {
        browser.eval(&format!(
            "document.querySelector('[data-reach=\"{n}\"]').outerHTML.slice(0, 200)"
        ))
    });
    assert!(
        missed.is_empty(),
        "{} of {all} are not reached, the first is {first}",
        missed.len()
    );
    browser.expect_quiet();
}

#[test]
fn keys_play_turn_and_sort() {
    let Some(mut browser) = main_job_opened() else {
        return;
    };
    // A long trial, so that it still plays when it is stopped.
    browser.eval(
        "{ const ends = bendwisePlayer.data.trials.map((t) => t.time_s.at(-1)); const s = document.getElementById('first'); \
         s.value = String(ends.indexOf(Math.max(...ends))); s.dispatchEvent(new Event('change')); \
         document.getElementById('speed').value = '0.25'; }",
    );
    browser.eval("document.getElementById('play').focus()");
    browser.press("Enter", ENTER, "\r");
    // The first frame comes when the processors have time for it.
    let moves = "new Promise((done) => { const look = () => bendwisePlayer.state().time > 0 ? done(true) : \
                 setTimeout(look, 20); look(); })";
    assert_eq!(browser.eval(moves), json!(true));
    browser.press("Enter", ENTER, "\r");
    assert_eq!(browser.eval("bendwisePlayer.state().playing"), json!(false));
    browser.eval("document.getElementById('canvas-1').focus()");
    browser.press("ArrowRight", 39, "");
    assert_eq!(
        browser.eval("document.getElementById('view').value"),
        json!("free")
    );
    browser.eval("document.getElementById('time').focus()");
    let before = browser.number("bendwisePlayer.state().time");
    browser.press("ArrowRight", 39, "");
    assert!(browser.number("bendwisePlayer.state().time") > before);
    // The inputs are folded: they open by a key too, and their tables sort.
    browser.eval("document.querySelector('details:has(table.sortable) summary').focus()");
    browser.press("Enter", ENTER, "\r");
    browser.eval("document.querySelector('details[open] table.sortable th button').focus()");
    browser.press("Enter", ENTER, "\r");
    let sorted =
        "document.querySelector('details[open] table.sortable th').getAttribute('aria-sort')";
    assert_eq!(browser.eval(sorted), json!("ascending"));
    browser.expect_quiet();
}
