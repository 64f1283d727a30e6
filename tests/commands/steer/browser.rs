//! A session in a real browser: keys push and turn, the branch is reached, a closed page and a killed program
//! lose nothing, and the session replays to the same numbers.

use std::time::{Duration, Instant};

use serde_json::{Value, json};

use super::Server;
use super::keeps::{row_of_run, same_row};
use crate::pages::driver::Browser;

const PATIENCE: Duration = Duration::from_secs(60);

/// Waits until an expression in the page is true.
fn until(browser: &mut Browser, script: &str) {
    let begun = Instant::now();
    while browser.eval(&format!("Boolean({script})")) != json!(true) {
        assert!(begun.elapsed() < PATIENCE, "{script} does not come true");
        std::thread::sleep(Duration::from_millis(10));
    }
}

fn open(browser: &mut Browser, address: &str) {
    browser.open_address(address);
    until(browser, "document.querySelector('#view[data-at]')");
}

/// Movements that the page shows.
fn at(browser: &mut Browser) -> f64 {
    browser.number("Number(document.querySelector('#view').dataset.at)")
}

/// Presses a key once, and waits for the moment.
fn press(browser: &mut Browser, key: &str, code: u32) {
    let before = at(browser);
    browser.press(key, code, "");
    until(
        browser,
        &format!("Number(document.querySelector('#view').dataset.at) > {before}"),
    );
}

fn outcome(browser: &mut Browser) -> Value {
    browser.eval("document.querySelector('#outcome').dataset.outcome")
}

#[test]
fn keys_steer_a_wire_into_the_branch_and_the_session_replays_to_the_same_numbers() {
    const UP: (&str, u32) = ("ArrowUp", 38);
    const LEFT: (&str, u32) = ("ArrowLeft", 37);
    const RIGHT: (&str, u32) = ("ArrowRight", 39);
    let Some(mut browser) = Browser::start(1280, 900) else {
        return;
    };
    let folder = tempfile::tempdir().expect("a folder");
    let out = folder.path().join("hand");
    let server = Server::start("side-branch.toml", &out, &[]);
    open(&mut browser, &server.address());
    for (key, code) in [UP, UP, UP, UP, LEFT, LEFT, RIGHT, RIGHT, UP] {
        press(&mut browser, key, code);
    }
    assert!((at(&mut browser) - 9.0).abs() < 0.5);
    let text = browser.eval("document.querySelector('#seen').textContent");
    assert!(
        text.as_str()
            .is_some_and(|text| text.contains("before the branching of side")),
        "{text}"
    );
    // The page is closed and opened again.
    browser.open_address("about:blank");
    open(&mut browser, &server.address());
    assert!(
        (at(&mut browser) - 9.0).abs() < 0.5,
        "the state is the program's"
    );
    let foreign: Vec<_> = browser
        .requests
        .iter()
        .filter(|url| !url.contains(&server.host))
        .collect();
    assert!(foreign.is_empty(), "{foreign:?}");
    assert!(browser.complaints.is_empty(), "{:?}", browser.complaints);
    // The program is killed and started again.
    server.kill();
    let server = Server::start("side-branch.toml", &out, &[]);
    open(&mut browser, &server.address());
    browser.complaints.clear();
    assert!(
        (at(&mut browser) - 9.0).abs() < 0.5,
        "the session is on the disk"
    );
    while outcome(&mut browser) != json!("reached") {
        assert!(at(&mut browser) < 250.0, "the branch is reached by then");
        press(&mut browser, UP.0, UP.1);
    }
    browser.eval("document.querySelector('#one').click(); 1");
    browser.eval("new Promise((done) => requestAnimationFrame(() => setTimeout(done, 50)))");
    browser.picture("by-hand-one-projection");
    browser.eval("document.querySelector('#all').click(); 1");
    browser.eval("new Promise((done) => requestAnimationFrame(() => setTimeout(done, 200)))");
    browser.picture("by-hand-everything");
    browser.eval("document.querySelector('#finish').click(); 1");
    until(
        &mut browser,
        "document.querySelectorAll('#rows tbody tr').length == 7",
    );
    browser.picture("by-hand-compared");
    let row = browser.eval("document.querySelector('#rows tr.own').dataset.row");
    let row: Value = serde_json::from_str(row.as_str().expect("a text")).expect("a row");
    assert_eq!(row["outcome"], "reached");
    assert!(browser.complaints.is_empty(), "{:?}", browser.complaints);
    drop(browser);
    server.kill();
    let again = row_of_run(&out.join("study.toml"), &folder.path().join("results"));
    same_row(&row, &again);
}

#[test]
fn a_key_deflates_the_balloon_and_all_of_the_vessel_is_shown_first() {
    let Some(mut browser) = Browser::start(1280, 720) else {
        return;
    };
    let folder = tempfile::tempdir().expect("a folder");
    let technique = ["--technique", "balloon at the joint"];
    let server = Server::start("graft-entry.toml", &folder.path().join("hand"), &technique);
    open(&mut browser, &server.address());
    let shown =
        "['all', 'one'].map((id) => document.getElementById(id).getAttribute('aria-pressed'))";
    assert_eq!(browser.eval(shown), json!(["true", "false"]));
    for _ in 0..2 {
        press(&mut browser, "v", 86);
    }
    let text = browser.eval("document.querySelector('#seen').textContent");
    assert!(
        text.as_str()
            .is_some_and(|text| text.contains("inflated to 2.6 of 3.0 mm")),
        "{text}"
    );
    browser.picture("by-hand-balloon");
    // No number has a minus before a zero.
    assert_eq!(
        browser.eval("[fixed(-0.001, 2), fixed(-0.01, 2)]"),
        json!(["0.00", "-0.01"])
    );
    assert!(browser.complaints.is_empty(), "{:?}", browser.complaints);
}

#[test]
fn an_earlier_moment_is_shown_whole_and_going_back_stands_in_the_row_of_the_session() {
    const UP: (&str, u32) = ("ArrowUp", 38);
    let Some(mut browser) = Browser::start(1280, 720) else {
        return;
    };
    let folder = tempfile::tempdir().expect("a folder");
    let server = Server::start("side-branch.toml", &folder.path().join("hand"), &[]);
    open(&mut browser, &server.address());
    let seen = "document.querySelector('#seen').textContent";
    let ring = "document.querySelector('#marks .tip').style.left";
    for _ in 0..3 {
        press(&mut browser, UP.0, UP.1);
    }
    let early = browser.eval(seen);
    for _ in 0..25 {
        press(&mut browser, UP.0, UP.1);
    }
    // Moments come faster than pictures: the last one is drawn once the browser shows the next.
    browser.eval("new Promise((done) => requestAnimationFrame(() => setTimeout(done)))");
    let (late, late_ring) = (browser.eval(seen), browser.eval(ring));
    assert_ne!(early, late);
    // Everything fits into the window, and all of what is seen has its name.
    let outside = browser.eval(
        "['#space', '#seen', '#curves', '#cursor', '#back', '#finish', '#compare', '#hand-right', '#outcome'].filter((name) => { \
         const b = document.querySelector(name).getBoundingClientRect(); return b.width < 1 || b.bottom > innerHeight || b.right > innerWidth; })",
    );
    assert_eq!(outside, json!([]));
    let names = browser.eval(
        "Array.from(document.querySelectorAll('#marks .name')).filter((e) => e.checkVisibility()).map((e) => e.textContent).sort()",
    );
    assert_eq!(names, json!(["parent", "side (target)"]));
    let scale = browser.eval("document.querySelector('#marks .scale').textContent");
    assert!(
        scale.as_str().is_some_and(|text| text.ends_with(" mm")),
        "{scale}"
    );
    // The slider: picture, words and bars are those of that moment.
    let slide = |browser: &mut Browser, to: usize| {
        browser.eval(&format!(
            "{{ const c = document.querySelector('#cursor'); c.value = {to}; c.dispatchEvent(new Event('input')); }}"
        ));
    };
    slide(&mut browser, 3);
    let early_words = early.as_str().expect("words").to_owned();
    until(&mut browser, &format!("{seen} === {}", json!(early_words)));
    // The tip of that moment lies far behind.
    until(
        &mut browser,
        &format!("parseFloat({ring}) < parseFloat({late_ring}) - 40"),
    );
    let told = browser.eval("document.querySelector('#earlier').checkVisibility()");
    assert_eq!(told, json!(true));
    browser.picture("by-hand-earlier");
    slide(&mut browser, 28);
    until(&mut browser, &format!("{seen} === {late}"));
    // Hands go on from the last moment.
    slide(&mut browser, 3);
    press(&mut browser, UP.0, UP.1);
    assert!((at(&mut browser) - 29.0).abs() < 0.5);
    // Unless one goes back.
    slide(&mut browser, 3);
    browser.eval("document.querySelector('#back').click(); 1");
    until(
        &mut browser,
        "Number(document.querySelector('#view').dataset.at) === 3",
    );
    let told = browser.eval("document.querySelector('#moment').textContent");
    assert!(
        told.as_str()
            .is_some_and(|told| told.contains("gone back 1 time")),
        "{told}"
    );
    browser.eval("document.querySelector('#finish').click(); 1");
    until(
        &mut browser,
        "document.querySelectorAll('#rows tbody tr').length > 1",
    );
    let marked = browser.eval(
        "Array.from(document.querySelectorAll('#rows tbody tr')).map((r) => r.querySelectorAll('.hand').length)",
    );
    assert_eq!((&marked[0], &marked[1]), (&json!(1), &json!(0)));
    let own = browser.eval("document.querySelector('#rows tr.own td').textContent");
    assert!(
        own.as_str()
            .is_some_and(|own| own.contains("by hand")
                && own.contains("went back to an earlier moment 1 time")),
        "{own}"
    );
    // While kept movements are made again the page says how many, and shows how far they are.
    browser.eval("heard({ replaying: { done: 3, of: 9, opening: null, moment } })");
    let told = browser.eval("document.querySelector('#replay').innerText");
    assert!(
        told.as_str().is_some_and(|told| told.contains("3 of 9")),
        "{told}"
    );
    assert!(browser.complaints.is_empty(), "{:?}", browser.complaints);
}
