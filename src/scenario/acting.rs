//! What of a scenario acts in a trial of one technique, as a hash: movements that were made in one scene
//! come to the same in another where the hashes are equal.

use std::fmt::Write as _;

use serde::Serialize;
use sha2::{Digest, Sha256};

use super::model::{AidsSpec, PlanSpec, Scenario, TechniqueSpec};
use super::view::SightSpec;

#[derive(Serialize)]
struct Acting<'a> {
    scenario: Scenario,
    plan: &'a PlanSpec,
    aids: &'a AidsSpec,
    sight: SightSpec,
}

impl Scenario {
    /// SHA-256, in hexadecimal, of all that acts in a trial that is worked with the devices of
    /// `technique`. Names, texts, other techniques and the size of the study are left out.
    #[must_use]
    pub fn acting_hash(&self, technique: &TechniqueSpec) -> String {
        let acting = Acting {
            scenario: Self {
                name: String::new(),
                origin: String::new(),
                description: String::new(),
                study: Default::default(),
                techniques: Vec::new(),
                ..self.clone()
            },
            plan: &technique.plan,
            aids: &technique.aids,
            sight: technique.sight,
        };
        let mut hasher = Sha256::new();
        // Numbers that are not finite, which no checked scenario has, would be written as null.
        hasher.update(serde_json::to_vec(&acting).unwrap_or_default());
        let mut hex = String::new();
        for byte in hasher.finalize() {
            let _ = write!(hex, "{byte:02x}");
        }
        hex
    }
}
