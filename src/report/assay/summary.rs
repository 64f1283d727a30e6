//! `assay.json`: the bench tests in numbers.

use serde::{Deserialize, Serialize};

use crate::assay::{Findings, PreparedBench, Test};
use crate::report::CAUTION;

/// What `assay.json` holds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AssaySummary {
    /// Version of the program.
    #[serde(rename = "bendwise")]
    pub bendwise_version: String,
    /// Name of the file's subject.
    pub name: String,
    /// Hash of what the file says.
    pub content_hash: String,
    /// The caution.
    pub caution: String,
    /// Names of the wires.
    pub wires: Vec<String>,
    /// One entry a test.
    pub tests: Vec<TestSummary>,
    /// What could not be measured.
    pub not_measured: Vec<FaultSummary>,
}

/// One test.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TestSummary {
    /// Name for files.
    pub test: String,
    /// Title.
    pub title: String,
    /// What is done and what is read.
    pub explanation: String,
    /// Where the test comes from.
    pub source: String,
    /// What a real bench adds.
    pub leaves_out: String,
    /// File of the curves.
    pub curve: String,
    /// Numbers of all wires.
    pub readings: Vec<ReadingSummary>,
    /// What a person should know about them.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub remarks: Vec<RemarkSummary>,
}

/// A remark on the numbers of one wire.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RemarkSummary {
    /// Wire.
    pub wire: String,
    /// The remark.
    pub text: String,
}

/// One number of one wire.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ReadingSummary {
    /// Wire.
    pub wire: String,
    /// Key, with the unit at its end.
    pub key: String,
    /// In words.
    pub label: String,
    /// The value; absent where the note says why.
    pub value: Option<f64>,
    /// Unit; empty for a ratio.
    pub unit: String,
    /// Remark.
    #[serde(skip_serializing_if = "String::is_empty", default)]
    pub note: String,
}

/// A test that failed on a wire.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FaultSummary {
    /// Test.
    pub test: String,
    /// Wire.
    pub wire: String,
    /// Why.
    pub reason: String,
}

/// Sums up the findings.
#[must_use]
pub fn summary(prepared: &PreparedBench, findings: &Findings, content_hash: &str) -> AssaySummary {
    let wires: Vec<String> = prepared
        .bench
        .wires
        .iter()
        .map(|w| w.name.clone())
        .collect();
    let one = |test: Test, measured: &[crate::assay::Measured]| TestSummary {
        test: test.slug().into(),
        title: test.title().into(),
        explanation: test.explanation().join(" "),
        source: test.source().into(),
        leaves_out: test.leaves_out().into(),
        curve: format!("curves/{}.csv", test.slug()),
        readings: wires
            .iter()
            .zip(measured)
            .flat_map(|(wire, m)| m.readings.iter().map(move |r| (wire, r)))
            .map(|(wire, r)| ReadingSummary {
                wire: wire.clone(),
                key: r.key.clone(),
                label: r.label.clone(),
                value: r.value,
                unit: r.unit.into(),
                note: r.note.clone(),
            })
            .collect(),
        remarks: wires
            .iter()
            .zip(measured)
            .flat_map(|(wire, m)| m.remarks.iter().map(move |text| (wire, text)))
            .map(|(wire, text)| RemarkSummary {
                wire: wire.clone(),
                text: text.clone(),
            })
            .collect(),
    };
    AssaySummary {
        bendwise_version: env!("CARGO_PKG_VERSION").to_owned(),
        name: prepared.bench.name.clone(),
        content_hash: content_hash.to_owned(),
        caution: CAUTION.to_owned(),
        tests: findings
            .tests
            .iter()
            .map(|(test, m)| one(*test, m))
            .collect(),
        not_measured: findings
            .faults
            .iter()
            .map(|(test, wire, fault)| FaultSummary {
                test: test.slug().into(),
                wire: wires[*wire].clone(),
                reason: fault.to_string(),
            })
            .collect(),
        wires,
    }
}
