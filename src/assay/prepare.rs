//! Builds the wires of a bench and reads its measured curves; what needs both is checked here.

use super::fit::{self, Curve, CurveError};
use super::kink;
use crate::device::{DeviceError, Wire};
use crate::scenario::bench::{Bench, bends_end_mm, described_mm};
use crate::schema::Place;

/// A bench whose wires are built.
#[derive(Debug, Clone, PartialEq)]
pub struct PreparedBench {
    /// Wires as described, and settings that fit them.
    pub bench: Bench,
    /// Wires as built, in the same order.
    pub wires: Vec<Wire>,
    /// The curves of the fits, in their order.
    pub curves: Vec<Vec<Curve>>,
}

/// Why a bench cannot be prepared.
#[derive(Debug, thiserror::Error)]
pub enum BenchError {
    /// A wire that cannot be built.
    #[error(transparent)]
    Device(#[from] DeviceError),
    /// A loop for which there is not enough wire.
    #[error(
        "stations_mm of [assay.kink] holds {station_mm} mm, where a loop takes {half_mm:.1} mm of wire \
         on each side and the wire \"{wire}\" is straight and described from {from_mm} to {to_mm} mm \
         from its tip; choose another station, or describe more of the wire"
    )]
    NoRoomForLoop {
        /// The station in mm.
        station_mm: f64,
        /// The wire.
        wire: String,
        /// Length on each side in mm.
        half_mm: f64,
        /// Where the straight part begins in mm.
        from_mm: f64,
        /// Where the description ends in mm.
        to_mm: f64,
        /// Where the stations are said.
        place: Place,
    },
    /// A measured curve that cannot be used.
    #[error("{error}")]
    Curve {
        /// What is wrong.
        error: Box<CurveError>,
        /// Where the curve is named.
        place: Place,
    },
}

impl BenchError {
    /// Where in the file the fault was said.
    #[must_use]
    pub fn place(&self) -> &Place {
        match self {
            Self::Device(error) => error.place(),
            Self::NoRoomForLoop { place, .. } | Self::Curve { place, .. } => place,
        }
    }

    /// What the person can do.
    #[must_use]
    pub fn remedy(&self) -> &'static str {
        match self {
            Self::Device(_) => "correct this wire",
            Self::NoRoomForLoop { .. } => "stations are counted from the tip of every wire",
            Self::Curve { .. } => "correct the curve, or what is said about it here",
        }
    }
}

impl PreparedBench {
    /// Builds the wires and reads the curves.
    ///
    /// # Errors
    /// [`BenchError`] for the first thing found wrong.
    pub fn new(bench: &Bench) -> Result<Self, BenchError> {
        let wires = bench
            .wires
            .iter()
            .map(Wire::from_spec)
            .collect::<Result<Vec<_>, _>>()?;
        let mut bench = bench.clone();
        let mut stations = Vec::new();
        for &station_mm in &bench.assay.kink.stations_mm {
            match (no_room(&bench, &wires, station_mm), &bench.assay.kink.said) {
                (None, _) => stations.push(station_mm),
                (Some(_), None) => {}
                (Some((wire, half_mm, from_mm, to_mm)), Some(place)) => {
                    return Err(BenchError::NoRoomForLoop {
                        station_mm,
                        wire,
                        half_mm,
                        from_mm,
                        to_mm,
                        place: place.clone(),
                    });
                }
            }
        }
        bench.assay.kink.stations_mm = stations;
        let held_mm = bench.assay.tip_load.held_mm;
        let read = |spec| {
            fit::read(spec, held_mm).map_err(|(error, place)| BenchError::Curve { error, place })
        };
        let curves = bench
            .assay
            .fits
            .iter()
            .map(read)
            .collect::<Result<_, _>>()?;
        Ok(Self {
            bench,
            wires,
            curves,
        })
    }
}

/// The first wire in which a loop at a station does not find room: its name, the length on each
/// side, and the part that is there, in mm.
fn no_room(bench: &Bench, wires: &[Wire], station_mm: f64) -> Option<(String, f64, f64, f64)> {
    bench.wires.iter().zip(wires).find_map(|(spec, wire)| {
        let half = kink::half_length_mm(wire, station_mm);
        let from = bends_end_mm(spec);
        let to = described_mm(spec).unwrap_or(f64::INFINITY);
        let fits = station_mm - half >= from && station_mm + half <= to;
        (!fits).then(|| (spec.name.clone(), half, from, to))
    })
}
