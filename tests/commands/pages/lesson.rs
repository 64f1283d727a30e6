//! The page of a lesson: one page at a time, playback beside the page before, keys, print.

use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use assert_cmd::Command;
use serde_json::json;
use tempfile::TempDir;

use super::driver::Browser;

/// Code of a key on the keyboard.
const PAGE_DOWN: u32 = 34;
const PAGE_UP: u32 = 33;

/// What of a page of a lesson cannot be seen without scrolling.
const OUTSIDE: &str = "
    ['.text', '.look', '.question', '#canvas-1', '#canvas-2', '#caption-1', '#play', '#time', '#clock', '#turn-down', '.caution']
        .map((name) => [name, document.querySelector(`.page.current ${name}`) || document.querySelector(name)])
        .filter(([, element]) => {
            const box = element.getBoundingClientRect(), around = element.closest('.said');
            const end = around ? around.getBoundingClientRect().bottom : innerHeight;
            return box.width < 1 || box.height < 1 || box.top < 0 || box.bottom > end + 1 || box.right > innerWidth + 1;
        })
        .map(([name]) => name)";

/// The page of a shipped lesson, built once.
fn lesson() -> &'static Path {
    static MADE: OnceLock<(TempDir, PathBuf)> = OnceLock::new();
    let (_, page) = MADE.get_or_init(|| {
        let folder = tempfile::tempdir().expect("a folder");
        let out = folder.path().join("out");
        Command::new(assert_cmd::cargo::cargo_bin!("bendwise"))
            .args([
                "lesson",
                "scenarios/lessons/soft-tip.toml",
                "--quiet",
                "--out",
            ])
            .arg(&out)
            .assert()
            .success();
        (folder, out.join("lesson.html"))
    });
    page
}

/// A browser at that page, ready to play; `None`, said loudly, where there is no browser.
fn opened() -> Option<Browser> {
    let mut browser = Browser::start(1280, 720)?;
    browser.open_player(lesson());
    Some(browser)
}

#[test]
fn arrows_turn_slides_over_and_the_link_to_what_went_in_leads_there_and_back() {
    let Some(mut browser) = opened() else {
        return;
    };
    let page =
        "Array.from(document.querySelectorAll('.page')).findIndex((p) => p.checkVisibility())";
    for (key, code, number) in [
        ("ArrowRight", 39, 1.0),
        ("ArrowRight", 39, 2.0),
        ("ArrowLeft", 37, 1.0),
    ] {
        browser.press(key, code, "");
        assert!((browser.number(page) - number).abs() < 0.5, "{key}");
    }
    // A second time too.
    for _ in 0..2 {
        browser.eval(
            "document.getElementById('rest').click(); new Promise((done) => setTimeout(done, 700))",
        );
        let top = "document.querySelector('main > section:not(.page)').getBoundingClientRect().top";
        let top = browser.number(top);
        assert!((-1.0..360.0).contains(&top), "what went in is at {top}");
        browser.eval("document.getElementById('back-to-pages').click()");
        let slides = browser.eval("document.documentElement.classList.contains('slides')");
        assert_eq!(slides, json!(true));
        assert!(
            (browser.number(page) - 1.0).abs() < 0.5,
            "the page is still there"
        );
    }
}

#[test]
fn a_lesson_turns_over_by_keys_and_plays_each_page_beside_the_one_before() {
    let Some(mut browser) = opened() else {
        return;
    };
    let shown = "Array.from(document.querySelectorAll('.page')).map((p) => p.checkVisibility())";
    assert_eq!(browser.eval(shown), json!([true, false, false, false]));
    let panes =
        "bendwisePlayer.state().panes.map((p) => bendwisePlayer.data.trials[p.trial].strategy)";
    assert_eq!(browser.eval(panes), json!(["page 1, stiff"]));
    browser.picture("lesson-1280");
    browser.press("PageDown", PAGE_DOWN, "");
    assert_eq!(browser.eval(shown), json!([false, true, false, false]));
    assert_eq!(browser.eval(panes), json!(["page 2, tip", "page 1, stiff"]));
    // Both run on one clock, and the picture is where the page is.
    browser.eval("bendwisePlayer.go(bendwisePlayer.state().end / 2)");
    assert_eq!(
        browser.eval(
            "document.getElementById('player').closest('.page').querySelector('h2').textContent"
        ),
        json!("A soft tip on the same shaft")
    );
    let tips = browser.eval("bendwisePlayer.state().panes.map((p) => p.tip)");
    assert_ne!(tips[0], tips[1]);
    for (width, height) in [(1280, 720), (1920, 1080)] {
        browser.resize(width, height);
        for large in [true, false] {
            browser.eval("document.getElementById('large').click()");
            let outside = browser.eval(OUTSIDE);
            assert_eq!(outside, json!([]), "at {width} by {height}, large {large}");
        }
        let wider = browser.number("document.documentElement.scrollWidth - innerWidth");
        assert!(
            wider <= 0.0,
            "at {width} the page is {wider} wider than the window"
        );
        browser.eval("scrollTo(0, 0)");
        browser.picture(&format!("lesson-two-{width}"));
        browser.eval("document.querySelector('.page.current .slot').scrollIntoView()");
        browser.picture(&format!("lesson-player-{width}"));
    }
    browser.press("PageDown", PAGE_DOWN, "");
    browser.press("PageUp", PAGE_UP, "");
    browser.press("PageUp", PAGE_UP, "");
    assert_eq!(
        browser.eval("document.getElementById('page-at').textContent"),
        json!("Page 1 of 4")
    );
    assert_eq!(
        browser.eval("document.getElementById('before').disabled"),
        json!(true)
    );
    // An address leads to a page, and the question opens to its answer.
    browser.eval("location.hash = '#part-3'");
    let third = "new Promise((done) => setTimeout(() => done(document.querySelector('.page.current h2').textContent), 50))";
    assert_eq!(browser.eval(third), json!("A softer shaft behind it"));
    let answer = "document.querySelector('.page.current .question p')";
    assert_eq!(
        browser.eval(&format!("{answer}.checkVisibility()")),
        json!(false)
    );
    browser.eval("document.querySelector('.page.current .question summary').focus()");
    browser.press("Enter", 13, "\r");
    assert_eq!(
        browser.eval(&format!("{answer}.checkVisibility()")),
        json!(true)
    );
    browser.eval("document.getElementById('large').click()");
    browser.eval("scrollTo(0, 0)");
    browser.picture("lesson-large");
    browser.eval("document.getElementById('large').click()");
    assert!(browser.print("lesson").starts_with(b"%PDF"));
    browser.expect_quiet();
}

#[test]
fn pages_of_a_lesson_show_the_same_vessel_equally_large_and_say_what_changed_in_words() {
    let Some(mut browser) = opened() else {
        return;
    };
    let zoom = "bendwisePlayer.state().panes.map((p) => p.mm_per_pixel)";
    let mut whole: Vec<f64> = Vec::new();
    for page in 0..4 {
        let shown: Vec<f64> = serde_json::from_value(browser.eval(zoom)).expect("scales");
        // The second page shows the branching alone.
        if page != 1 {
            whole.extend(&shown);
        }
        assert!(
            shown.iter().all(|mm| (mm - shown[0]).abs() < 1e-6),
            "{shown:?}"
        );
        super::picture::expect_lists_unclipped(&mut browser);
        if page > 0 {
            let said = browser.eval("document.querySelector('.page.current .changed').innerText");
            let said = said.as_str().expect("a text");
            assert!(!said.contains('_'), "{said}");
        }
        browser.picture(&format!("lesson-page-{}", page + 1));
        browser.press("PageDown", PAGE_DOWN, "");
    }
    assert_eq!(whole.len(), 5);
    let off = whole
        .iter()
        .map(|mm| (mm / whole[0] - 1.0).abs())
        .fold(0.0, f64::max);
    assert!(off < 0.02, "{whole:?}");
    let said = browser.eval("document.querySelectorAll('.changed')[0].innerText");
    assert!(
        said.as_str().is_some_and(
            |said| said.contains("tip load of wire \"stiff 3 gf\" from 3.0 gf to 0.3 gf")
        ),
        "{said}"
    );
    browser.expect_quiet();
}

#[test]
fn on_paper_answers_have_a_sheet_of_their_own() {
    let Some(mut browser) = opened() else {
        return;
    };
    // One was opened on the screen: on paper it is closed all the same.
    browser.eval("document.querySelector('.page.current .question').open = true");
    browser.eval("dispatchEvent(new Event('beforeprint'))");
    browser.media("print");
    let seen =
        "(name) => Array.from(document.querySelectorAll(name)).map((e) => e.checkVisibility())";
    assert_eq!(
        browser.eval(&format!("({seen})('.page .question > p')")),
        json!([false, false, false, false])
    );
    assert_eq!(
        browser.eval(&format!("({seen})('.answers li')")),
        json!([true, true, true, true])
    );
    assert_eq!(
        browser.eval("getComputedStyle(document.querySelector('.answers')).breakBefore"),
        json!("page")
    );
    browser.media("screen");
    browser.eval("dispatchEvent(new Event('afterprint'))");
    assert_eq!(
        browser.eval(&format!("({seen})('.answers li')")),
        json!([false, false, false, false])
    );
    // The foot of a sheet: what it belongs to, and its number.
    let feet = browser.eval(
        "Array.from(document.styleSheets).flatMap((s) => Array.from(s.cssRules)).filter((r) => r instanceof CSSPageRule).map((r) => r.cssText).join(' ')",
    );
    let feet = feet.as_str().expect("rules");
    assert!(
        feet.contains("counter(page)") && feet.contains("counter(pages)"),
        "{feet}"
    );
    assert!(feet.contains("Why a soft tip follows a bend"), "{feet}");
    browser.expect_quiet();
}

#[test]
fn the_tabulator_key_reaches_everything_on_a_page_of_a_lesson() {
    let Some(mut browser) = opened() else {
        return;
    };
    browser.press("PageDown", PAGE_DOWN, "");
    super::keyboard::expect_all_reached(&mut browser, 25);
}
