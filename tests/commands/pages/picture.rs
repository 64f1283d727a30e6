//! What stands in the picture: all of the vessel in most of the room, names beside it, curves that can be read.

use serde_json::json;

use super::driver::Browser;
use super::study::main_job_opened;

/// Smallest type in pixels that a chart may have at 1280 by 720.
const LEAST_TYPE: f64 = 9.0;

/// What of the pixels of a pane lies under a box of the page, as the share of those that are not white; drawn in the
/// same task, because a picture is gone after it was shown.
const PIXELS: &str = "const drawn = (n) => { bendwisePlayer.go(bendwisePlayer.state().time); \
     const c = document.getElementById('canvas-' + n), d = document.createElement('canvas'); \
     d.width = c.width; d.height = c.height; const x = d.getContext('2d', { willReadFrequently: true }); x.drawImage(c, 0, 0); \
     return { x, scale: c.width / c.clientWidth, box: c.getBoundingClientRect(), width: c.width, height: c.height }; }; \
     const inked = (x, left, top, wide, high) => { const d = x.getImageData(left, top, Math.max(wide, 1), Math.max(high, 1)).data; \
     let n = 0; for (let i = 0; i < d.length; i += 4) if (d[i] < 250 || d[i + 1] < 250 || d[i + 2] < 250) n += 1; return n / (d.length / 4); };";

fn choose(browser: &mut Browser, id: &str, value: &str) {
    browser.eval(&format!(
        "{{ const s = document.getElementById('{id}'); s.value = '{value}'; s.dispatchEvent(new Event('change')); }}"
    ));
}

#[test]
fn names_stand_beside_the_vessels_and_the_tip_has_a_ring() {
    let Some(mut browser) = main_job_opened() else {
        return;
    };
    for (view, least) in [("0", 3), ("1", 5), ("2", 4)] {
        choose(&mut browser, "view", view);
        for second in ["", "1"] {
            choose(&mut browser, "second", second);
            for share in [0.3, 0.7, 1.0] {
                browser.eval(&format!(
                    "bendwisePlayer.go({share} * bendwisePlayer.state().end)"
                ));
                let under = browser.eval(&format!(
                    "(() => {{ {PIXELS} const p = drawn(1); return Array.from(document.querySelectorAll('#marks-1 .name')) \
                     .filter((e) => e.checkVisibility()).map((e) => {{ const b = e.getBoundingClientRect(); \
                     return [e.textContent, inked(p.x, p.scale * (b.left - p.box.left), p.scale * (b.top - p.box.top), \
                     p.scale * b.width, p.scale * b.height)]; }}); }})()"
                ));
                let under: Vec<(String, f64)> = serde_json::from_value(under).expect("names");
                assert!(under.len() >= least, "view {view}: {under:?}");
                assert!(
                    under.iter().all(|(_, share)| *share < 0.1),
                    "view {view} at {share}: {under:?}"
                );
                let ring =
                    browser.eval("document.querySelector('#marks-1 .tip').checkVisibility()");
                assert_eq!(ring, json!(true));
            }
        }
    }
    let scale = browser.eval("document.querySelector('#marks-1 .scale').textContent");
    assert!(
        scale.as_str().is_some_and(|text| text.ends_with(" mm")),
        "{scale}"
    );
    let long =
        browser.number("document.querySelector('#marks-1 .scale').getBoundingClientRect().width");
    let mm: f64 = scale
        .as_str()
        .and_then(|s| s.strip_suffix(" mm")?.parse().ok())
        .expect("a length");
    let per_pixel = browser.number("bendwisePlayer.state().panes[0].mm_per_pixel");
    assert!(
        (long * per_pixel - mm).abs() < 0.02 * mm,
        "{long} px are {mm} mm"
    );
    browser.expect_quiet();
}

#[test]
fn the_vessel_fills_the_picture_with_one_trial_and_with_two() {
    let Some(mut browser) = main_job_opened() else {
        return;
    };
    browser.eval("document.getElementById('names').click()");
    for (width, height) in [(1280, 720), (1920, 1080)] {
        browser.resize(width, height);
        for second in ["", "1"] {
            choose(&mut browser, "second", second);
            for view in ["0", "1", "2"] {
                choose(&mut browser, "view", view);
                // Share of the columns and of the rows of the picture that hold something.
                let held = browser.eval(&format!(
                    "(() => {{ {PIXELS} const p = drawn(1), b = 8; const any = (list) => list.filter(Boolean).length / list.length; \
                     const columns = Array.from({{ length: Math.floor(p.width / b) }}, (_, k) => inked(p.x, k * b, 0, b, p.height) > 0); \
                     const rows = Array.from({{ length: Math.floor(p.height / b) }}, (_, k) => inked(p.x, 0, k * b, p.width, b) > 0); \
                     return [any(columns), any(rows)]; }})()"
                ));
                let held: [f64; 2] = serde_json::from_value(held).expect("shares");
                let most = held[0].max(held[1]);
                assert!(
                    most > 0.8 && held[0].min(held[1]) > 0.35,
                    "view {view}, second {second:?} at {width}: {held:?}"
                );
            }
        }
    }
    browser.expect_quiet();
}

#[test]
fn two_trials_with_their_curves_and_controls_fit_into_the_window() {
    let Some(mut browser) = main_job_opened() else {
        return;
    };
    for second in ["", "1"] {
        choose(&mut browser, "second", second);
        browser.eval("document.getElementById('player').scrollIntoView()");
        let outside = browser.eval(
            "['#first', '#canvas-1', '#chart-1 svg', '#caption-1', '#play', '#time', '#turn-down', ...(document.querySelector('#pane-2').hidden ? [] : \
             ['#canvas-2', '#chart-2 svg', '#caption-2'])].filter((name) => { const b = document.querySelector(name).getBoundingClientRect(); \
             return b.width < 1 || b.top < -1 || b.bottom > innerHeight + 1 || b.right > innerWidth + 1; })",
        );
        assert_eq!(outside, json!([]), "second {second:?}");
        let least = browser.number(
            "Math.min(...Array.from(document.querySelectorAll('.pane:not([hidden]) .chart text'), (t) => { const svg = t.ownerSVGElement; \
             return parseFloat(t.getAttribute('font-size')) * svg.getBoundingClientRect().width / svg.viewBox.baseVal.width; }))",
        );
        assert!(
            least >= LEAST_TYPE,
            "type of {least} pixels in a chart, second {second:?}"
        );
        // The whole of what is chosen can be read in a list that is closed.
        expect_lists_unclipped(&mut browser);
    }
    browser.expect_quiet();
}

/// Fails where the text of a list that is closed has no room.
pub fn expect_lists_unclipped(browser: &mut Browser) {
    let clipped = browser.eval(
        "Array.from(document.querySelectorAll('select')).filter((s) => s.checkVisibility()).filter((s) => { \
         const x = document.createElement('canvas').getContext('2d'), style = getComputedStyle(s); x.font = style.font; \
         const room = s.clientWidth - parseFloat(style.paddingLeft) - parseFloat(style.paddingRight) - 16; \
         return x.measureText(s.selectedOptions[0].textContent).width > room; }).map((s) => s.id + ': ' + s.selectedOptions[0].textContent)",
    );
    assert_eq!(clipped, json!([]));
}
