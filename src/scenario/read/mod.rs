//! Reading tables and values of a parsed TOML file, each with its place, so that every fault
//! can be pointed at.
//!
//! A `Table` is opened with the list of fields that it may have and refuses any other at once;
//! an `Entry` is one value, which is then asked to be a number in a range, a word of a list,
//! and so on. (Serde would give up the places inside lists and alternatives.)
mod entry;
mod table;

pub(super) use entry::Entry;
pub(super) use table::{Fields, Table};

use super::model::Place;

fn shifted(span: &std::ops::Range<usize>, base: usize) -> Place {
    Place {
        start: span.start + base,
        end: span.end + base,
    }
}
