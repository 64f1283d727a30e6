//! `[vessel.bed]`: what holds the vessel, and how stiff its wall is.

use schemars::JsonSchema;
use serde::Deserialize;

use crate::scenario::model::{BedSpec, Tissue};
use crate::schema::{Place, Read, Refusal};

/// Compression of the wall from which it counts as folded, where none is said.
const FOLD_STRAIN: f64 = 0.1;

/// What the vessel lies in and how far it gives way.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
pub(super) struct BedTable {
    /// Surroundings, from which the other values follow; in "rigid" ones only the wall's local dent
    /// gives way.
    #[schemars(extend("x-example" = "\"fat\""))]
    tissue: Tissue,
    /// Stiffness of the bed against displacement across the vessel's axis, per mm of vessel.
    #[serde(rename = "across_mN_per_mm2")]
    #[schemars(range(min = 0.05, max = 10_000), extend("x-default" = "by tissue", "x-example" = "5"))]
    across_mn_per_mm2: Option<f64>,
    /// The same along the axis.
    #[serde(rename = "along_mN_per_mm2")]
    #[schemars(range(min = 0.05, max = 10_000), extend(
        "x-default" = "half of that across the axis",
        "x-example" = "2.5"
    ))]
    along_mn_per_mm2: Option<f64>,
    /// Young's modulus of the vessel's wall; below the least one its axis has no shape of its own.
    #[serde(rename = "wall_modulus_MPa")]
    #[schemars(range(min = 0.01, max = 1000), extend("x-default" = "by tissue", "x-example" = "0.5"))]
    wall_modulus_mpa: Option<f64>,
    /// Thickness of the wall over the lumen's radius.
    #[schemars(range(min = 0.01, max = 2), extend("x-default" = "by tissue", "x-example" = "0.2"))]
    wall_share: Option<f64>,
    /// Compression along the inner side of a bend from which the wall counts as folded.
    #[schemars(range(min = 0.01, max = 1), extend("default" = FOLD_STRAIN, "x-example" = "0.1"))]
    fold_strain: Option<f64>,
}

impl BedTable {
    /// The bed; `None` for one that does not give way.
    pub(super) fn checked(&self, at: Place) -> Read<Option<BedSpec>> {
        if self.tissue == Tissue::Rigid {
            let said = [
                ("across_mN_per_mm2", self.across_mn_per_mm2),
                ("along_mN_per_mm2", self.along_mn_per_mm2),
                ("wall_modulus_MPa", self.wall_modulus_mpa),
                ("wall_share", self.wall_share),
                ("fold_strain", self.fold_strain),
            ];
            return match said.iter().find(|(_, said)| said.is_some()) {
                None => Ok(None),
                Some((field, _)) => Err(Refusal::at(
                    at.field(*field),
                    "a rigid bed does not give way, so nothing about it is said but tissue",
                    "leave it out, or name another tissue",
                )),
            };
        }
        let across = self
            .across_mn_per_mm2
            .unwrap_or(self.tissue.across_mn_per_mm2());
        Ok(Some(BedSpec {
            tissue: self.tissue,
            across_mn_per_mm2: across,
            along_mn_per_mm2: self.along_mn_per_mm2.unwrap_or(Tissue::ALONG * across),
            wall_modulus_mpa: self
                .wall_modulus_mpa
                .unwrap_or(self.tissue.wall_modulus_mpa()),
            wall_share: self.wall_share.unwrap_or(self.tissue.wall_share()),
            fold_strain: self.fold_strain.unwrap_or(FOLD_STRAIN),
            spacing_factor: 1.0,
            place: at,
        }))
    }
}
