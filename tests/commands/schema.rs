//! The published schemas are those of the program, and every shipped file is valid by them in the
//! eyes of another library.
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]

use std::fs;
use std::path::{Path, PathBuf};

use bendwise::scenario::{Document, FileKind, kind, load, load_text};
use serde_json::Value;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// All shipped files of the folders with scenarios, sweeps and trees.
fn shipped() -> Vec<PathBuf> {
    let folders = [
        "scenarios",
        "scenarios/sweeps",
        "scenarios/lessons",
        "scenarios/trees",
    ];
    let files = folders.iter().flat_map(|folder| {
        let entries = fs::read_dir(root().join(folder)).unwrap();
        entries.map(|entry| entry.unwrap().path())
    });
    files
        .filter(|path| path.extension().is_some_and(|ending| ending == "toml"))
        .collect()
}

fn document(path: &Path) -> Document {
    match kind(path) {
        FileKind::Scenario => Document::Scenario,
        FileKind::Sweep => Document::Sweep,
        FileKind::Lesson => Document::Lesson,
        FileKind::Wires => Document::Wires,
        FileKind::Tree => Document::Tree,
        FileKind::Unknown => Document::Spread,
    }
}

/// A file as the validator sees it.
fn value(text: &str) -> Value {
    serde_json::to_value(text.parse::<toml::Table>().unwrap()).unwrap()
}

#[test]
fn the_published_schemas_are_those_that_the_program_prints() {
    for document in Document::ALL {
        let path = root().join(format!("scenarios/schema/{}.json", document.name()));
        let published = fs::read_to_string(&path).unwrap_or_default();
        assert!(
            published == format!("{:#}\n", document.schema()),
            "{} is out of date: bendwise schema {} > {}",
            path.display(),
            document.name(),
            path.display()
        );
    }
}

#[test]
fn every_shipped_file_is_valid_by_its_schema() {
    let files = shipped();
    assert!(files.len() >= 28, "{}", files.len());
    for path in files {
        let schema = document(&path).schema();
        let validator = jsonschema::validator_for(&schema).unwrap();
        let file = value(&fs::read_to_string(&path).unwrap());
        let errors: Vec<String> = validator
            .iter_errors(&file)
            .map(|error| format!("{}: {error}", error.instance_path()))
            .collect();
        assert!(errors.is_empty(), "{}: {errors:#?}", path.display());
    }
}

#[test]
fn every_shipped_file_names_its_schema() {
    for path in shipped() {
        let text = fs::read_to_string(&path).unwrap();
        let first = text.lines().next().unwrap();
        let named = first.strip_prefix("#:schema ");
        let named = named.unwrap_or_else(|| panic!("{}: {first}", path.display()));
        let schema = path.parent().unwrap().join(named).canonicalize().unwrap();
        let name = format!("{}.json", document(&path).name());
        assert_eq!(
            schema.file_name().unwrap(),
            name.as_str(),
            "{}",
            path.display()
        );
    }
}

#[test]
fn the_schema_refuses_what_the_program_refuses() {
    let path = root().join("scenarios/side-branch.toml");
    let text = fs::read_to_string(&path).unwrap();
    let validator = jsonschema::validator_for(&Document::Scenario.schema()).unwrap();
    assert!(validator.is_valid(&value(&text)));
    let replaced = |from: &str, to: &str| {
        assert!(text.contains(from), "{from}");
        text.replacen(from, to, 1)
    };
    for wrong in [
        replaced("trials = ", "trails = "),
        replaced("trials = 32", "trials = 0"),
        replaced("trials = 32", "trials = 1.5"),
        replaced("kind = \"redirect\"", "kind = \"redirct\""),
        replaced("kind = \"push\"", "kind = \"push\"\nfold_mm = 30"),
        replaced("shape = \"straight\"", "shape = \"straigt\""),
        replaced("[guide]", "[guid]"),
    ] {
        assert!(!validator.is_valid(&value(&wrong)));
        assert!(load_text(&path, wrong).is_err());
    }
}

#[test]
fn the_line_that_names_the_schema_is_not_hashed() {
    let path = root().join("scenarios/side-branch.toml");
    let loaded = load(&path).unwrap();
    let (first, rest) = loaded.source.text.split_once('\n').unwrap();
    assert!(first.starts_with("#:schema "));
    let without = load_text(&path, rest.to_owned()).unwrap();
    assert_eq!(loaded.content_hash, without.content_hash);
}

/// Every field of a table or of one of its forms, however deep.
fn names(schema: &Value, found: &mut Vec<String>) {
    match schema {
        Value::Object(map) => {
            if let Some(Value::Object(properties)) = map.get("properties") {
                found.extend(properties.keys().cloned());
            }
            map.values().for_each(|value| names(value, found));
        }
        Value::Array(list) => list.iter().for_each(|value| names(value, found)),
        _ => {}
    }
}

#[test]
fn the_page_names_every_field_and_every_field_has_a_meaning() {
    for document in Document::ALL {
        let page = document.page();
        let mut fields = Vec::new();
        names(&document.schema(), &mut fields);
        fields.sort();
        fields.dedup();
        for field in fields {
            let heads = ["kind", "shape", "law"];
            let row = format!("| `{field}` | ");
            let said = page
                .lines()
                .any(|line| line.starts_with(&row) && !line[row.len()..].starts_with(" |"));
            assert!(
                said || heads.contains(&field.as_str()),
                "{field} in {}",
                document.name()
            );
        }
    }
}
