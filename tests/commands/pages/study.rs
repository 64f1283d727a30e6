//! The page of a study: size, opening, tables, print.

use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use assert_cmd::Command;
use serde_json::json;
use tempfile::TempDir;

use super::driver::Browser;

/// The folder of a short main job, made once: two trials of six strategies, all recorded.
pub fn main_job() -> &'static Path {
    static MADE: OnceLock<(TempDir, PathBuf)> = OnceLock::new();
    let (_, out) = MADE.get_or_init(|| {
        let folder = tempfile::tempdir().expect("a folder");
        let out = folder.path().join("out");
        Command::new(assert_cmd::cargo::cargo_bin!("bendwise"))
            .args([
                "run",
                "scenarios/published-tree-m1.toml",
                "--trials",
                "2",
                "--quiet",
                "--out",
            ])
            .arg(&out)
            .assert()
            .success();
        (folder, out)
    });
    out
}

/// A browser at the page of that job, ready to play; `None`, said loudly, where there is no browser.
pub fn main_job_opened() -> Option<Browser> {
    let mut browser = Browser::start(1280, 720)?;
    browser.open_player(&main_job().join("report.html"));
    Some(browser)
}

#[test]
fn the_page_of_the_main_job_is_small_opens_quickly_and_asks_for_nothing() {
    let page = main_job().join("report.html");
    let size = std::fs::metadata(&page).expect("a page").len();
    assert!(size < 8_000_000, "{size} bytes");
    let Some(mut browser) = Browser::start(1280, 720) else {
        return;
    };
    let (opened, playing) = browser.open_player(&page);
    let used = browser.used_s();
    println!(
        "{size} bytes, open after {opened:.2?}, playing after {playing:.2?}, {used:.2} s of a processor"
    );
    assert!(browser.number("bendwisePlayer.data.trials.length") >= 10.0);
    browser.expect_quiet();
    for (width, height) in [(1280, 720), (1920, 1080)] {
        browser.resize(width, height);
        browser.eval("scrollTo(0, 0)");
        browser.picture(&format!("study-{width}"));
        browser.eval("document.getElementById('player').scrollIntoView()");
        browser.picture(&format!("study-playback-{width}"));
        let wider = browser.number("document.documentElement.scrollWidth - innerWidth");
        assert!(
            wider <= 0.0,
            "at {width} the page is {wider} wider than the window"
        );
    }
    let printed = browser.print("study");
    assert!(printed.starts_with(b"%PDF"), "no PDF");
    browser.expect_quiet();
}

#[test]
fn every_part_of_the_page_is_there_and_tables_sort_by_number() {
    let Some(mut browser) = main_job_opened() else {
        return;
    };
    let heads = browser.eval("Array.from(document.querySelectorAll('h2'), (h) => h.textContent)");
    let heads: Vec<String> = serde_json::from_value(heads).expect("headings");
    for wanted in [
        "What went in",
        "Playback",
        "Success and load",
        "Which fork, which wrong branch",
        "Force on the wall by place",
        "Limits",
        "What the model leaves out",
        "The scenario",
    ] {
        assert!(
            heads.iter().any(|head| head == wanted),
            "{wanted} is not among {heads:?}"
        );
    }
    let text = browser.eval("document.body.textContent");
    let text = text.as_str().expect("text");
    for said in [
        "not for clinical decisions",
        "Young's modulus",
        "AP CRA 40",
        "[[technique]]",
    ] {
        assert!(text.contains(said), "{said}");
    }
    // The table of loads by its wall force: rising, then falling.
    let column = "Array.from(document.querySelectorAll('table.sortable')).find((t) => \
                  t.tHead.textContent.includes('attempts'))";
    let values =
        format!("Array.from({column}.tBodies[0].rows, (r) => parseFloat(r.cells[4].textContent))");
    for (direction, sign) in [("ascending", 1.0), ("descending", -1.0)] {
        browser.eval(&format!(
            "{column}.tHead.rows[0].cells[4].querySelector('button').click()"
        ));
        let sorted: Vec<f64> = serde_json::from_value(browser.eval(&values)).expect("numbers");
        assert_eq!(sorted.len(), 6);
        assert!(
            sorted.windows(2).all(|w| sign * (w[1] - w[0]) >= 0.0),
            "{sorted:?}"
        );
        let said = format!("{column}.tHead.rows[0].cells[4].getAttribute('aria-sort')");
        assert_eq!(browser.eval(&said), json!(direction));
    }
    browser.eval("document.getElementById('large').click()");
    let size = browser.number("parseFloat(getComputedStyle(document.body).fontSize)");
    assert!(size >= 24.0, "large type has {size} pixels");
    browser.picture("study-large");
    browser.expect_quiet();
}
