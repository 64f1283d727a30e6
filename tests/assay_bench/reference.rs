//! The numbers that `SciPy` gave.

use serde_json::Value;

/// The number under the two keys of `assay_reference.json`.
pub fn number(table: &str, key: &str) -> f64 {
    let text = include_str!("../reference/assay_reference.json");
    let all: Value = serde_json::from_str(text).expect("the reference file is JSON");
    let value = if key.is_empty() {
        &all[table]
    } else {
        &all[table][key]
    };
    value.as_f64().expect("a number of the reference file")
}
