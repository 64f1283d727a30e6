//! Carries out a test on one wire and reads the numbers from its curve.

mod body;
mod fitted;
mod tip;
mod tube;

pub(super) use body::{kink, pinch, straightening, three_point};
pub(super) use fitted::fitted;
pub(super) use tip::{flexibility, tip_load};
pub(super) use tube::tube;

use super::{AssayError, Measured, Reading, Series, Test};
use crate::device::Wire;
use crate::scenario::bench::AssaySpec;
use crate::scenario::model::WireSpec;

/// A wire on the bench.
#[derive(Debug, Clone, Copy)]
pub(super) struct Subject<'a> {
    /// As described.
    pub spec: &'a WireSpec,
    /// As built.
    pub wire: &'a Wire,
    /// Settings of the tests.
    pub assay: &'a AssaySpec,
}

/// A number as part of a key: `12.5` becomes `12_5`.
fn keyed(value: f64) -> String {
    format!("{value}").replace('.', "_")
}

fn series<const N: usize>(condition: &str, curve: &[[f64; N]]) -> Series {
    Series {
        condition: condition.to_owned(),
        points: curve.iter().map(|row| row.to_vec()).collect(),
    }
}
