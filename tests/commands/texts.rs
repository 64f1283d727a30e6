//! Texts that people read, whole: help, a scene in words, a page of fields, a report, messages.
//!
//! Each is compared with its file in `tests/commands/snapshots`. After a change that is meant, read the
//! difference, and take the new texts with
//! `INSTA_UPDATE=always cargo test --release --test commands texts`.
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]

use std::fs;
use std::path::Path;

use assert_cmd::cargo::cargo_bin_cmd;

use crate::cli_check_refusals::message;
use crate::report_folder;

/// Compares with the snapshot of that name; what differs between versions of a file is masked.
fn compare(name: &str, text: &str) {
    let version = env!("CARGO_PKG_VERSION");
    let masked: Vec<String> = text
        .replace(&format!("bendwise {version}"), "bendwise [version]")
        .lines()
        .map(|line| match line.split_once("content hash  ") {
            Some((before, _)) => format!("{before}content hash  [hash]"),
            None => line.trim_end().to_owned(),
        })
        .collect();
    let mut settings = insta::Settings::clone_current();
    settings.set_prepend_module_to_snapshot(false);
    settings.set_omit_expression(true);
    settings.bind(|| insta::assert_snapshot!(name, masked.join("\n")));
}

/// What the command prints on standard output, from the project's folder.
fn printed(args: &[&str]) -> String {
    let output = cargo_bin_cmd!("bendwise")
        .current_dir(Path::new(env!("CARGO_MANIFEST_DIR")))
        .args(args)
        .output()
        .unwrap();
    assert!(output.status.success(), "{args:?}");
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn help_says_how_to_begin_and_carries_the_caution() {
    compare("help", &printed(&["--help"]));
}

#[test]
fn check_describes_a_scenario_in_words() {
    for name in ["side-branch", "support-catheters"] {
        let text = printed(&["check", &format!("scenarios/{name}.toml")]);
        compare(&format!("check-{name}"), &text);
    }
}

/// The fields of a wire; `schema` tests that no field of any document is left out.
#[test]
fn the_page_of_fields_says_unit_range_default_and_meaning() {
    let page = printed(&["schema", "--markdown"]);
    let start = page.find("## `[[wire]]`").unwrap();
    let rest = &page[start + 3..];
    let end = rest.find("\n## ").unwrap();
    compare("schema-wire", &page[start..start + 3 + end]);
}

#[test]
fn a_report_has_every_table_of_its_study() {
    let text = fs::read_to_string(report_folder::made().join("report.md")).unwrap();
    compare("report", &text);
}

/// Name of the snapshot, what stands in the sound scenario, and what is written instead.
const WRONG: [(&str, &str, &str); 10] = [
    ("tip-load-in-mn", "tip_load_gf = 0.3", "tip_load_gf = 300"),
    (
        "diameter-in-thousandths-of-an-inch",
        "diameter_mm = 0.3556",
        "diameter_mm = 14",
    ),
    ("negative-length", "length_mm = 60", "length_mm = -60"),
    ("friction-above-2", "friction = 0.05", "friction = 2.5"),
    ("friction-nan", "friction = 0.05", "friction = nan"),
    ("no-trials", "trials = 4", "trials = 0"),
    ("list-that-does-not-rise", "[25, 1.5]", "[0, 1.5]"),
    (
        "unknown-core-law",
        "tip_load_gf = 0.3",
        "core_law = \"superlastic\"\ntip_load_gf = 0.3",
    ),
    (
        "plateau-of-an-elastic-core",
        "tip_load_gf = 0.3",
        "plateau_strain = 0.05\ntip_load_gf = 0.3",
    ),
    (
        "unknown-parent",
        "parent = \"parent\"",
        "parent = \"trunk\"",
    ),
];

#[test]
fn messages_name_file_line_field_value_what_is_allowed_and_a_remedy() {
    for (name, sound, wrong) in WRONG {
        compare(&format!("wrong-{name}"), &message(sound, wrong));
    }
}
