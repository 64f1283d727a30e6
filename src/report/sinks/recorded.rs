//! Figures made from the recorded trials: where wires end, the course of one trial, forces.

use std::collections::BTreeMap;
use std::sync::Arc;

use nalgebra::Vector3;

use super::{drawing, folder_in};
use crate::report::figures::{DrawnWire, ForcePanel, Forces, Scene, SceneRow, TrialEnd};
use crate::report::reading::{covered, tip};
use crate::report::setting::{AT_REST, Setting};
use crate::study::{KeepError, Making, Point, Sink, StrategyLabel, Trial};
use crate::trial::result::{Outcome, TraceRow, TrialRecord, WireShape};

/// Shapes of one trial in a figure of its strategy.
const SHAPES_IN_FIGURE: usize = 10;

/// The recorded trials, as far as they are drawn.
pub(super) struct RecordedTrials {
    setting: Arc<Setting>,
    trials: BTreeMap<(usize, u32), Recorded>,
}

/// What is drawn of a recorded trial.
struct Recorded {
    trial: u32,
    outcome: Outcome,
    trace: Vec<TraceRow>,
    /// Some of its shapes, from its start to its end, each with a strength from 0 to 1.
    course: Vec<(Drawn, f64)>,
}

/// A wire's line, and how much of it a catheter of which diameter in mm covers.
#[derive(Clone)]
struct Drawn {
    nodes_mm: Vec<Vector3<f64>>,
    covered: usize,
    cover_diameter_mm: f64,
}

impl RecordedTrials {
    pub(super) fn new(setting: &Arc<Setting>) -> Self {
        Self {
            setting: setting.clone(),
            trials: BTreeMap::new(),
        }
    }

    /// Number of a strategy's wire and its diameter in mm.
    fn wire(&self, strategy: &StrategyLabel) -> (usize, f64) {
        let wires = &self.setting.wires;
        let index = wires.iter().position(|(name, _)| *name == strategy.wire);
        let index = index.unwrap_or(0);
        (index, wires.get(index).map_or(0.0, |wire| wire.1))
    }

    fn scene(&self, name: String, title: &str, subtitle: String, rows: Vec<SceneRow>) -> Scene {
        Scene {
            name,
            title: title.to_owned(),
            subtitle,
            outline: self.setting.outline.clone(),
            rows,
        }
    }

    fn drawn(&self, strategy: &StrategyLabel, recorded: &[Recorded]) -> DrawnWire {
        let (colour, diameter_mm) = self.wire(strategy);
        DrawnWire {
            label: strategy.wire.clone(),
            colour,
            diameter_mm,
            shapes: Vec::new(),
            covers: Vec::new(),
            tip_paths: Vec::new(),
            ends: recorded.iter().filter_map(Recorded::end).collect(),
        }
    }

    /// The last shape of each recorded trial.
    fn ends(&self, strategy: &StrategyLabel, recorded: &[Recorded]) -> DrawnWire {
        let mut wire = self.drawn(strategy, recorded);
        for (shape, _) in recorded.iter().filter_map(|trial| trial.course.last()) {
            add_shape(&mut wire, shape, 1.0);
        }
        wire
    }

    /// Some shapes of the first recorded trial, later ones stronger, and all tip paths.
    fn course(&self, strategy: &StrategyLabel, recorded: &[Recorded]) -> DrawnWire {
        let mut wire = self.drawn(strategy, recorded);
        for (shape, strength) in recorded.first().into_iter().flat_map(|t| &t.course) {
            add_shape(&mut wire, shape, *strength);
        }
        let paths = recorded.iter().map(|t| t.trace.iter().map(tip).collect());
        wire.tip_paths = paths.collect();
        wire
    }
}

impl Sink for RecordedTrials {
    fn trial(&mut self, trial: Trial<'_>) -> Result<(), KeepError> {
        if !trial.record.trace.is_empty() {
            let (_, diameter_mm) = self.wire(trial.label);
            let key = (trial.strategy, trial.record.row.trial);
            let recorded = Recorded::new(trial.record, diameter_mm);
            self.trials.insert(key, recorded);
        }
        Ok(())
    }

    /// Without any recorded trial only the vessel is drawn.
    fn point(&mut self, point: &Point<'_>) -> Result<Vec<Making>, KeepError> {
        folder_in(point.folder, "figures")?;
        let setup = point.setup;
        let mut makings = Vec::new();
        let mut panels = Vec::new();
        let mut rows: Vec<SceneRow> = Vec::new();
        let mut gives = false;
        for (number, strategy) in setup.strategies.iter().enumerate() {
            let mut later = self.trials.split_off(&(number, setup.recorded));
            let recorded = std::mem::take(&mut self.trials);
            self.trials = later.split_off(&(number + 1, 0));
            let recorded: Vec<Recorded> = recorded.into_values().collect();
            if recorded.is_empty() {
                continue;
            }
            let ends = self.ends(strategy, &recorded);
            match rows.iter_mut().find(|r| r.title == strategy.technique) {
                Some(row) => row.wires.push(ends),
                None => rows.push(SceneRow {
                    title: strategy.technique.clone(),
                    wires: vec![ends],
                }),
            }
            let course = SceneRow {
                title: strategy.name.clone(),
                wires: vec![self.course(strategy, &recorded)],
            };
            let covers = &course.wires[0].covers;
            let band = if covers.iter().any(|c| c.0.len() > 1) {
                "; pale band: support catheter"
            } else {
                ""
            };
            let moves = |t: &Recorded| t.trace.iter().any(|row| row.vessel_moved_mm > 0.0);
            let at_rest = if self.setting.is_beating || recorded.iter().any(moves) {
                AT_REST
            } else {
                ""
            };
            gives |= !at_rest.is_empty();
            makings.push(drawing(self.scene(
                format!("scene-{}", strategy.slug),
                "One trial from start to end",
                format!(
                    "{}; trial {}, later shapes darker; thin lines: tip paths of all recorded \
                     trials; wire thickness to scale{band}{at_rest}",
                    setup.scenario, recorded[0].trial
                ),
                vec![course],
            )));
            panels.push(ForcePanel {
                technique: strategy.technique.clone(),
                wire: strategy.wire.clone(),
                trials: recorded.into_iter().map(|r| r.trace).collect(),
            });
        }
        if !panels.is_empty() {
            makings.push(drawing(Forces {
                scenario: setup.scenario.clone(),
                panels,
            }));
        }
        let (title, what) = if rows.is_empty() {
            ("The vessel", "no trial was recorded")
        } else {
            (
                "Where the wires end",
                "recorded trials at their end; where wires coincide the last one named is seen; wire \
                 thickness to scale",
            )
        };
        let at_rest = if gives { AT_REST } else { "" };
        let subtitle = format!("{}; {what}{at_rest}", setup.scenario);
        makings.push(drawing(self.scene(
            "scene".to_owned(),
            title,
            subtitle,
            rows,
        )));
        Ok(makings)
    }
}

impl Recorded {
    fn new(record: &TrialRecord, wire_diameter_mm: f64) -> Self {
        let count = record.shapes.len();
        let shown = count.min(SHAPES_IN_FIGURE);
        let course = (0..shown).map(|rank| {
            let step = (count - 1) * rank / (shown - 1).max(1);
            let strength = 0.25 + 0.75 * (rank + 1) as f64 / shown as f64;
            (Drawn::new(&record.shapes[step], wire_diameter_mm), strength)
        });
        Self {
            trial: record.row.trial,
            outcome: record.row.outcome,
            trace: record.trace.clone(),
            course: course.collect(),
        }
    }

    /// How and where the trial ended.
    fn end(&self) -> Option<TrialEnd> {
        self.trace.last().map(|row| TrialEnd {
            trial: self.trial,
            tip_mm: tip(row),
            outcome: self.outcome,
        })
    }
}

impl Drawn {
    fn new(shape: &WireShape, wire_diameter_mm: f64) -> Self {
        Self {
            nodes_mm: shape.nodes_mm.clone(),
            covered: covered(shape, wire_diameter_mm),
            cover_diameter_mm: shape.diameter_mm.first().copied().unwrap_or(0.0),
        }
    }
}

/// Draws a shape with this strength, and the catheter over it.
fn add_shape(wire: &mut DrawnWire, shape: &Drawn, strength: f64) {
    wire.covers.push((
        shape.nodes_mm[..shape.covered].to_vec(),
        shape.cover_diameter_mm,
    ));
    wire.shapes.push((shape.nodes_mm.clone(), strength));
}
