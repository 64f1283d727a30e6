//! Which figures a sweep gets.

use std::path::Path;

use super::summary::SweepSummary;
use crate::report::figures::sweep::{MainEffects, Map, Panel, SensitivityBars, SuccessCurve};
use crate::report::sinks::{drawing, folder_in};
use crate::scenario::sweep::model::{DesignKind, ParameterSpec, shown};
use crate::study::sweep::Effect;
use crate::study::{KeepError, Making};

/// The figures of a sweep, for the folder `figures`.
///
/// # Errors
///
/// Where that folder cannot be made.
pub(super) fn drawings(folder: &Path, summary: &SweepSummary) -> Result<Vec<Making>, KeepError> {
    folder_in(folder, "figures")?;
    let mut drawings = Vec::new();
    let setup = &summary.setup;
    let strategies: Vec<String> = setup.strategies.iter().map(|s| s.name.clone()).collect();
    for index in 0..setup.strategies.len() {
        if let Some(map) = map(summary, index) {
            drawings.push(drawing(map));
        }
    }
    let effects = |parameter: &ParameterSpec| -> Vec<Effect> {
        let own = summary.effects.iter();
        own.filter(|e| e.parameter == parameter.column)
            .cloned()
            .collect()
    };
    for parameter in &setup.design.parameters {
        let curve = SuccessCurve {
            name: format!("success-{}", parameter.column),
            sweep: setup.of.name().to_owned(),
            parameter: parameter.clone(),
            lines: (setup.strategies.iter())
                .filter_map(|label| {
                    let own = effects(parameter);
                    let effect = own.into_iter().find(|e| e.strategy == label.name)?;
                    Some((label.clone(), effect))
                })
                .collect(),
        };
        drawings.push(drawing(curve));
    }
    let main = MainEffects {
        sweep: setup.of.name().to_owned(),
        strategies,
        parameters: setup
            .design
            .parameters
            .iter()
            .map(|p| (p.clone(), effects(p)))
            .collect(),
    };
    drawings.push(drawing(main));
    // One value explains no variance.
    let is_varied = |column: &str| {
        let own = summary.effects.iter().find(|e| e.parameter == column);
        own.is_none_or(|effect| effect.bins.len() > 1)
    };
    if !summary.sensitivities.is_empty() {
        let bars = SensitivityBars {
            sweep: setup.of.name().to_owned(),
            grid: setup.design.kind == DesignKind::Grid,
            labels: setup
                .design
                .parameters
                .iter()
                .map(|p| (p.column.clone(), p.label.clone()))
                .collect(),
            strategies: summary
                .sensitivities
                .iter()
                .map(|s| {
                    let of = s.parameters.iter().filter(|p| is_varied(&p.parameter));
                    (s.strategy.clone(), of.cloned().collect())
                })
                .collect(),
        };
        drawings.push(drawing(bars));
    }
    Ok(drawings)
}

/// The map of one strategy, a panel for each level of the panel's parameter.
fn map(summary: &SweepSummary, index: usize) -> Option<Map> {
    let setup = &summary.setup;
    let spec = setup.map.as_ref()?;
    let find = |column: &str| setup.design.parameters.iter().find(|p| p.column == column);
    let strategy = setup.strategies.get(index)?;
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
        name: if setup.strategies.len() == 1 {
            "map".to_owned()
        } else {
            format!("map-{}", strategy.slug)
        },
        sweep: setup.of.name().to_owned(),
        strategy: strategy.name.clone(),
        x: find(&spec.x)?.axis(),
        y: find(&spec.y)?.axis(),
        panels,
    })
}
