//! Figures of the study in numbers: rates, outcomes, and techniques side by side.

use std::sync::Arc;

use super::{drawing, folder_in};
use crate::report::figures::{Comparison, Outcomes, Rates};
use crate::report::setting::Setting;
use crate::report::summary;
use crate::study::{KeepError, Making, Point, Sink};

/// Charts of all trials.
pub(super) struct Charts(pub Arc<Setting>);

impl Sink for Charts {
    fn point(&mut self, point: &Point<'_>) -> Result<Vec<Making>, KeepError> {
        folder_in(point.folder, "figures")?;
        let strategies = summary::strategies(point.setup, point.rows);
        let scenario = &point.setup.scenario;
        let target = &self.0.outline.target;
        Ok(vec![
            drawing(Rates {
                scenario: scenario.clone(),
                target: target.clone(),
                wires: self.0.wire_names(),
                strategies: strategies.clone(),
            }),
            drawing(Comparison {
                scenario: scenario.clone(),
                target: target.clone(),
                wires: self.0.wire_names(),
                strategies: strategies.clone(),
            }),
            drawing(Outcomes {
                scenario: scenario.clone(),
                strategies,
            }),
        ])
    }
}
