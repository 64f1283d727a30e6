//! A vessel that was built once for many scenarios.

use super::setup::SetupError;
use crate::scenario::model::VesselSpec;
use crate::vessel::{Fold, SurfaceLumen, Tree, folds, lumen_of_balls};

/// A vessel that was built, for all scenarios that describe the same one.
#[derive(Debug, Clone)]
pub struct BuiltVessel {
    spec: VesselSpec,
    pub(super) tree: Tree,
    pub(super) surface: Option<SurfaceLumen>,
    pub(super) folds: Vec<Fold>,
}

impl BuiltVessel {
    /// Builds a vessel.
    ///
    /// # Errors
    /// [`SetupError`], with the place in the scenario.
    pub fn new(spec: &VesselSpec) -> Result<Self, SetupError> {
        let tree = Tree::build(spec)?;
        let folds = if spec.folds { folds(&tree) } else { Vec::new() };
        let surface = match &spec.surface {
            Some(mesh) => Some(SurfaceLumen::shared(mesh, spec)?),
            None if folds.is_empty() => None,
            None => Some(lumen_of_balls(&tree, spec, &folds)?),
        };
        Ok(Self {
            spec: spec.clone(),
            tree,
            surface,
            folds,
        })
    }

    /// Whether it is the vessel that `spec` describes.
    #[must_use]
    pub fn is(&self, spec: &VesselSpec) -> bool {
        self.spec == *spec
    }
}
