//! Figures of the study in numbers: rates, outcomes, and techniques side by side.

use std::sync::Arc;

use super::{drawing, folder_in};
use crate::report::figures::{Comparison, Outcomes, Rates};
use crate::report::setting::Setting;
use crate::report::summary;
use crate::study::{KeepError, Making, Sink, Study};

/// Charts of all trials.
pub(super) struct Charts(pub Arc<Setting>);

impl Sink for Charts {
    fn finish(&mut self, study: &Study<'_>) -> Result<Vec<Making>, KeepError> {
        folder_in(study.folder, "figures")?;
        let strategies = summary::strategies(study.plan, study.rows);
        let scenario = &study.plan.scenario;
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
