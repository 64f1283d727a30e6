//! Lists of rising numbers, and stations along wires that must have room for a test.

use super::super::allowed::{self, Allowed};
use crate::scenario::bench::{STATIONS_MM, bends_end_mm, described_mm};
use crate::scenario::error::Checked;
use crate::scenario::model::WireSpec;
use crate::scenario::read::{Entry, Table};

/// A list of rising numbers that may be left out.
pub(super) fn rising(
    table: Option<&Table<'_>>,
    field: &str,
    allowed: &Allowed,
) -> Checked<Option<Vec<(f64, usize)>>> {
    let Some(entry) = table.and_then(|table| table.optional(field)) else {
        return Ok(None);
    };
    let mut values: Vec<(f64, usize)> = Vec::new();
    for (index, item) in entry
        .list_of(1, "give at least one number")?
        .iter()
        .enumerate()
    {
        let value = item.number(allowed)?;
        if let Some((before, _)) = values.last()
            && value <= *before
        {
            return Err(item.disagreement(
                format!("{before} stands before it; allowed are rising numbers"),
                "sort the list and remove doubles".into(),
            ));
        }
        values.push((value, index));
    }
    Ok(Some(values))
}

pub(super) fn entry<'a>(table: Option<&Table<'a>>, field: &str, index: usize) -> Option<Entry<'a>> {
    let list = table?.optional(field)?.list().ok()?;
    list.into_iter().nth(index)
}

/// The part of every wire's description that a station may lie in.
pub(super) fn room(wire: &WireSpec) -> (f64, f64) {
    (
        bends_end_mm(wire),
        described_mm(wire).unwrap_or(f64::INFINITY),
    )
}

/// Stations that were said, each checked against every wire, or the usual ones that fit all;
/// `half` is the length of wire that a test needs on each side of a station.
pub(super) fn stations(
    table: Option<&Table<'_>>,
    wires: &[WireSpec],
    half: f64,
) -> Checked<Vec<f64>> {
    let fits = |wire: &WireSpec, station: f64| {
        let (from, to) = room(wire);
        station - half >= from && station + half <= to
    };
    let Some(said) = rising(table, "stations_mm", &allowed::STATION)? else {
        let usual = STATIONS_MM.into_iter();
        return Ok(usual
            .filter(|&station| wires.iter().all(|wire| fits(wire, station)))
            .collect());
    };
    for &(station, index) in &said {
        for wire in wires {
            if fits(wire, station) {
                continue;
            }
            let (from, to) = room(wire);
            let name = &wire.name;
            let reason = if station > to {
                format!(
                    "the wire \"{name}\" is described up to {to} mm from its tip, so that {station} mm lies beyond it"
                )
            } else {
                format!(
                    "the test takes {half:.1} mm of wire on each side and the wire \"{name}\" is \
                     straight and described from {from} to {to} mm; allowed is {:.1} to {:.1} mm",
                    from + half,
                    to - half
                )
            };
            let remedy = "choose another station, or describe more of the wire".to_owned();
            return Err(match entry(table, "stations_mm", index) {
                Some(said) => said.disagreement(reason, remedy),
                None => continue,
            });
        }
    }
    Ok(said.into_iter().map(|(station, _)| station).collect())
}
