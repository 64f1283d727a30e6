//! The numbers that `SciPy` gave.

use serde_json::Value;

/// The number under the two keys of `assay_reference.json`.
pub fn number(table: &str, key: &str) -> f64 {
    let text = include_str!("../../reference/assay_reference.json");
    let all: Value = serde_json::from_str(text).expect("the reference file is JSON");
    let value = if key.is_empty() {
        &all[table]
    } else {
        &all[table][key]
    };
    value.as_f64().expect("a number of the reference file")
}

/// The rows under `key` of the table `bench`: what an independent program says that noiseless tests
/// of a known wire read.
pub fn bench_rows(key: &str) -> Vec<[f64; 3]> {
    let rows = bench(key);
    let rows = rows.as_array().expect("a list of the reference file");
    let value = |row: &Value, c: usize| row[c].as_f64().expect("a number of the reference file");
    rows.iter()
        .map(|row| [0, 1, 2].map(|c| value(row, c)))
        .collect()
}

/// The stations of that wire: mm from the tip, mN mm².
pub fn bench_wire() -> Vec<(f64, f64)> {
    let rows = bench("wire");
    let rows = rows.as_array().expect("a list of the reference file");
    let value = |row: &Value, c: usize| row[c].as_f64().expect("a number of the reference file");
    rows.iter()
        .map(|row| (value(row, 0), value(row, 1)))
        .collect()
}

/// Load in mN at which its last 10 mm buckle, "pinned" or "free".
pub fn bench_tip_load(end: &str) -> f64 {
    bench("tip_load")[end]
        .as_f64()
        .expect("a number of the reference file")
}

fn bench(key: &str) -> Value {
    let text = include_str!("../../reference/assay_reference.json");
    let all: Value = serde_json::from_str(text).expect("the reference file is JSON");
    all["bench"][key].clone()
}
