//! Pages of sweeps, bench tests and views: they open in silence and fit the window.

use assert_cmd::Command;

use super::driver::Browser;

/// Runs a command that writes a folder, and looks at its page.
fn look(name: &str, arguments: &[&str], wanted: &[&str]) {
    let folder = tempfile::tempdir().expect("a folder");
    let out = folder.path().join("out");
    Command::new(assert_cmd::cargo::cargo_bin!("bendwise"))
        .args(arguments)
        .args(["--quiet", "--out"])
        .arg(&out)
        .assert()
        .success();
    let Some(mut browser) = Browser::start(1280, 720) else {
        return;
    };
    browser.open(&out.join("report.html"));
    let text = browser.eval("document.body.textContent");
    let text = text.as_str().expect("text");
    for said in wanted
        .iter()
        .chain(&["not for clinical decisions", "What the model leaves out"])
    {
        assert!(text.contains(said), "{name}: {said}");
    }
    let shown = browser.number("document.querySelectorAll('figure img').length");
    assert!(shown >= 1.0, "{name}: no figure");
    // Every figure is drawn, also below the window.
    let drawn = "Promise.all(Array.from(document.images, (i) => { i.loading = 'eager'; return i.decode(); })).then(() => true)";
    browser.eval(drawn);
    for (width, height) in [(1280, 720), (1920, 1080)] {
        browser.resize(width, height);
        let wider = browser.number("document.documentElement.scrollWidth - innerWidth");
        assert!(
            wider <= 0.0,
            "{name}: at {width} the page is {wider} wider than the window"
        );
        browser.picture(&format!("{name}-{width}"));
    }
    assert!(browser.print(name).starts_with(b"%PDF"));
    browser.expect_quiet();
}

#[test]
fn the_page_of_a_sweep_opens() {
    // The shipped one with a quarter of its trials.
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("sweep.toml");
    let scenarios = concat!(env!("CARGO_MANIFEST_DIR"), "/scenarios");
    let shipped = std::fs::read_to_string(format!("{scenarios}/sweeps/bend-shape-quick.toml"));
    let shipped = shipped.expect("a shipped sweep");
    assert!(shipped.contains("trials = 8") && shipped.contains("\"../"));
    let text = shipped
        .replace("trials = 8", "trials = 2")
        .replace("\"../", &format!("\"{scenarios}/"));
    std::fs::write(&file, text).expect("a file");
    look(
        "sweep",
        &["sweep", file.to_str().expect("a path")],
        &["What is varied", "Success over all points"],
    );
}

#[test]
fn the_page_of_bench_tests_opens() {
    let assay = [
        "assay",
        "scenarios/wires.toml",
        "--only",
        "tip-load,three-point",
    ];
    look(
        "assay",
        &assay,
        &["modulus", "Bending stiffness", "[[wire]]"],
    );
}

#[test]
fn the_page_of_views_opens() {
    let view = ["view", "scenarios/published-tree-m1.toml", "--no-runs"];
    look(
        "view",
        &view,
        &["How to read it", "AP CRA 40", "[[technique]]"],
    );
}
