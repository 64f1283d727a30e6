//! What a technique needs: devices, and room for them in the vessel.

use serde::{Deserialize, Serialize};

use super::PlanSpec;
use crate::scenario::model::{BendSpec, CarrierSpec};

/// What the wire of a technique is loaded into.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum Loading {
    /// The guide alone.
    Guide,
    /// A support catheter that the wire leaves at its tip.
    Catheter {
        /// Index of the catheter.
        index: usize,
        /// Length of wire in front of its tip at the beginning, in mm; above 0.
        lead_mm: f64,
        /// Whether it follows the wire into the target.
        follows: bool,
    },
    /// A dual-lumen catheter that the wire leaves at a side port.
    SidePort {
        /// The catheter on its first wire.
        carrier: CarrierSpec,
        /// How far past the target's branching the port comes, in mm; negative before it.
        port_past_mm: f64,
    },
}

/// What a technique needs of the devices and of the vessel.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Needs {
    /// What the wire is loaded into.
    pub loading: Loading,
    /// The fold that is set into the wire.
    pub fold: Option<BendSpec>,
    /// Length of wire that lies folded or looped beyond the target's branching, in mm; 0 where
    /// none does.
    pub beyond_branching_mm: f64,
    /// Whether the hands wait for diastole.
    pub diastole: bool,
}

impl Needs {
    /// Needs of a technique whose unfolded wire is loaded like this.
    #[must_use]
    pub fn loaded_in(loading: Loading) -> Self {
        Self {
            loading,
            fold: None,
            beyond_branching_mm: 0.0,
            diastole: false,
        }
    }
}

impl PlanSpec {
    /// The devices and the room that the technique needs.
    #[must_use]
    pub fn needs(&self) -> Needs {
        self.technique().needs()
    }

    /// Index of the support catheter that the technique uses.
    #[must_use]
    pub fn catheter(&self) -> Option<usize> {
        match self.needs().loading {
            Loading::Guide => None,
            Loading::Catheter { index, .. } => Some(index),
            Loading::SidePort { carrier, .. } => Some(carrier.catheter),
        }
    }

    /// The dual-lumen catheter out of whose side port the wire comes.
    #[must_use]
    pub fn carrier(&self) -> Option<CarrierSpec> {
        match self.needs().loading {
            Loading::Guide | Loading::Catheter { .. } => None,
            Loading::SidePort { carrier, .. } => Some(carrier),
        }
    }

    /// The fold that the technique sets into the wire.
    #[must_use]
    pub fn fold(&self) -> Option<BendSpec> {
        self.needs().fold
    }
}
