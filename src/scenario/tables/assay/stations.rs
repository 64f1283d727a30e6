//! Lists of rising numbers, and stations along wires that must have room for a test.

use crate::scenario::bench::{STATIONS_MM, bends_end_mm, described_mm};
use crate::scenario::model::WireSpec;
use crate::schema::{Place, Read, Refusal};

/// Refuses a list, said at `at`, whose numbers do not rise.
pub(super) fn rising(list: &[f64], at: &Place) -> Read<()> {
    for (index, pair) in list.windows(2).enumerate() {
        let before = pair[0];
        if pair[1] <= before {
            return Err(Refusal::at(
                at.entry(index + 1),
                format!("{before} stands before it; allowed are rising numbers"),
                "sort the list and remove doubles",
            ));
        }
    }
    Ok(())
}

/// The part of every wire's description that a station may lie in.
pub(super) fn room(wire: &WireSpec) -> (f64, f64) {
    (
        bends_end_mm(wire),
        described_mm(wire).unwrap_or(f64::INFINITY),
    )
}

/// Stations that were said at `at`, each checked against every wire, or the usual ones that fit all;
/// `half` is the length of wire that a test needs on each side of a station.
pub(super) fn stations(
    said: Option<&[f64]>,
    wires: &[WireSpec],
    half: f64,
    at: &Place,
) -> Read<Vec<f64>> {
    let fits = |wire: &WireSpec, station: f64| {
        let (from, to) = room(wire);
        station - half >= from && station + half <= to
    };
    let Some(said) = said else {
        let usual = STATIONS_MM.into_iter();
        return Ok(usual
            .filter(|&station| wires.iter().all(|wire| fits(wire, station)))
            .collect());
    };
    rising(said, at)?;
    for (index, &station) in said.iter().enumerate() {
        let Some(wire) = wires.iter().find(|wire| !fits(wire, station)) else {
            continue;
        };
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
        return Err(Refusal::at(
            at.entry(index),
            reason,
            "choose another station, or describe more of the wire",
        ));
    }
    Ok(said.to_vec())
}
