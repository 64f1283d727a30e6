//! A lesson with the wire in hand.

use serde_json::json;

use super::{Bench, SMALL};
use crate::steer::Server;

#[test]
fn each_page_of_a_lesson_has_a_wire_in_hand_and_keeps_its_own_session() {
    let bench = Bench::new(SMALL);
    let out = bench.out("lesson");
    let server = Server::of("lesson", &bench.file(), &out, &["--live", "--quiet"]);
    let mut page = server.page();
    assert_eq!(page.lesson["at"], 0);
    assert_eq!(page.lesson["titles"][1], "A tip load of 1 gf");
    let text = page.lesson["text"].as_str().expect("a text").to_owned();
    assert!(text.contains("It presses with"), "{text}");
    assert_eq!(page.hello["scene"]["made"]["technique"], "push");
    let fed = |answer: &serde_json::Value| answer["moment"]["felt"]["fed_mm"].as_f64();
    let before = fed(&json!({ "moment": page.hello["moment"] })).expect("a length");
    let after = fed(&page.make("feed")).expect("a length");
    assert!(after > before + 0.3, "{before} {after}");
    // The other page is another scene with another session.
    page.turn_to(1);
    assert_eq!((page.lesson["at"].as_u64(), page.at), (Some(1), 0));
    page.make("feed");
    page.make("turn_deg,5");
    // A page that is not there changes nothing.
    page.turn_to(7);
    assert_eq!((page.lesson["at"].as_u64(), page.at), (Some(1), 2));
    page.turn_to(0);
    assert_eq!(page.at, 1);
    drop(page);
    server.kill();
    // The lesson is built and the sessions are there: it goes on at once.
    let server = Server::of("lesson", &bench.file(), &out, &["--live", "--quiet"]);
    let mut page = server.page();
    assert_eq!(page.at, 1);
    page.turn_to(1);
    assert_eq!(page.at, 2);
    let kept = std::path::PathBuf::from(format!("{}-by-hand/firmer/session.csv", out.display()));
    let kept = std::fs::read_to_string(kept).expect("a session");
    assert!(kept.ends_with("feed\nturn_deg,5\n"), "{kept}");
}
