//! Which figures a sweep gets.

use std::fs;
use std::path::Path;

use super::summary::SweepSummary;
use crate::report::figures::sweep::{MainEffects, Map, Panel, SensitivityBars, SuccessCurve};
use crate::report::figures::{Figure, save_all};
use crate::scenario::sweep::model::{DesignKind, ParameterSpec, shown};
use crate::study::KeepError;
use crate::study::sweep::Effect;

/// Draws the figures of a sweep into `folder/figures`.
///
/// # Errors
///
/// A failed file operation, or what a drawing backend reports.
pub(super) fn draw(folder: &Path, summary: &SweepSummary) -> Result<(), KeepError> {
    let figures = folder.join("figures");
    fs::create_dir_all(&figures).map_err(KeepError::at(&figures))?;
    let mut drawings: Vec<Box<dyn Figure>> = Vec::new();
    let plan = &summary.plan;
    let strategies: Vec<String> = plan.strategies.iter().map(|s| s.name.clone()).collect();
    for index in 0..plan.strategies.len() {
        if let Some(map) = map(summary, index) {
            drawings.push(Box::new(map));
        }
    }
    let effects = |parameter: &ParameterSpec| -> Vec<Effect> {
        let own = summary.effects.iter();
        own.filter(|e| e.parameter == parameter.column)
            .cloned()
            .collect()
    };
    for parameter in &plan.design.parameters {
        let curve = SuccessCurve {
            name: format!("success-{}", parameter.column),
            sweep: plan.name.clone(),
            parameter: parameter.clone(),
            lines: (plan.strategies.iter())
                .filter_map(|label| {
                    let own = effects(parameter);
                    let effect = own.into_iter().find(|e| e.strategy == label.name)?;
                    Some((label.clone(), effect))
                })
                .collect(),
        };
        drawings.push(Box::new(curve));
    }
    let main = MainEffects {
        sweep: plan.name.clone(),
        strategies,
        parameters: plan
            .design
            .parameters
            .iter()
            .map(|p| (p.clone(), effects(p)))
            .collect(),
    };
    drawings.push(Box::new(main));
    if !summary.sensitivities.is_empty() {
        let bars = SensitivityBars {
            sweep: plan.name.clone(),
            grid: plan.design.kind == DesignKind::Grid,
            labels: plan
                .design
                .parameters
                .iter()
                .map(|p| (p.column.clone(), p.label.clone()))
                .collect(),
            strategies: summary
                .sensitivities
                .iter()
                .map(|s| (s.strategy.clone(), s.parameters.clone()))
                .collect(),
        };
        drawings.push(Box::new(bars));
    }
    save_all(&figures, drawings)
}

/// The map of one strategy, a panel for each level of the panel's parameter.
fn map(summary: &SweepSummary, index: usize) -> Option<Map> {
    let plan = &summary.plan;
    let spec = plan.map.as_ref()?;
    let find = |column: &str| plan.design.parameters.iter().find(|p| p.column == column);
    let strategy = plan.strategies.get(index)?;
    let panel_parameter = spec.panel.as_deref().and_then(find);
    let mut panels: Vec<Panel> = Vec::new();
    for cell in summary
        .fields
        .iter()
        .filter(|c| c.strategy == strategy.name)
    {
        let title = match (panel_parameter, &cell.panel) {
            (Some(parameter), Some(value)) => {
                let value = crate::scenario::sweep::model::number(value)
                    .map_or(shown(value), |number| {
                        format!("{}", (number * 1e4).round() / 1e4)
                    });
                format!("{} {value} {}", parameter.label, parameter.unit)
                    .trim_end()
                    .to_owned()
            }
            _ => String::new(),
        };
        match panels.iter_mut().find(|p| p.title == title) {
            Some(panel) => panel.cells.push(cell.clone()),
            None => panels.push(Panel {
                title,
                cells: vec![cell.clone()],
            }),
        }
    }
    Some(Map {
        name: if plan.strategies.len() == 1 {
            "map".to_owned()
        } else {
            format!("map-{}", strategy.slug)
        },
        sweep: plan.name.clone(),
        strategy: strategy.name.clone(),
        x: find(&spec.x)?.axis(),
        y: find(&spec.y)?.axis(),
        panels,
    })
}
