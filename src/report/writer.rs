//! Writes everything that a study leaves behind: traces and shapes as trials finish, tables and
//! figures at the end.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use nalgebra::Vector3;

use super::figures::{
    Comparison, DrawnWire, ForcePanel, Forces, Outcomes, Rates, Scene, SceneRow, TrialEnd, save,
};
use super::film::{Stage, film, typical};
use super::outline::SceneOutline;
use super::page::report_page;
use super::summary::summary;
use super::tables::{read_trace, write_hands, write_trace, write_trials};
use super::vtk::{read_wire, write_collection, write_vessel, write_wire};
use super::wall_map::write_map;
use crate::anatomy::Imported;
use crate::study::store::write_file;
use crate::study::{KeepError, Keeper, Plan, StrategyLabel};
use crate::trial::Prepared;
use crate::trial::result::{Outcome, Pressed, TraceRow, TrialRecord, TrialRow, WireShape};

/// Shapes of one trial in a figure of its strategy.
const SHAPES_IN_FIGURE: usize = 10;

/// Keeps a study in its folder.
#[derive(Debug, Clone, PartialEq)]
pub struct StudyWriter {
    /// The scene.
    pub outline: SceneOutline,
    /// Wires in the order of the scenario: name and outer diameter in mm.
    pub wires: Vec<(String, f64)>,
    /// What was guessed and changed when the file of anatomy was read, in words; empty without one.
    pub anatomy_as_read: Vec<String>,
    /// What films need to know of the scene; without it there are none.
    pub stage: Option<Stage>,
}

/// A recorded trial, read back.
struct Recorded {
    trial: u32,
    outcome: Outcome,
    trace: Vec<TraceRow>,
    shapes: PathBuf,
    count: usize,
}

impl Keeper for StudyWriter {
    fn files(&self, strategy: &StrategyLabel, record: &TrialRecord) -> Vec<String> {
        let name = trial_name(strategy, record.row.trial);
        let mut files = Vec::new();
        if !record.trace.is_empty() {
            files.push(format!("traces/{name}.csv"));
        }
        if !record.hands.is_empty() {
            files.push(format!("hands/{name}.csv"));
        }
        if !record.shapes.is_empty() {
            let shapes = (0..record.shapes.len()).map(wire_file);
            files.extend(shapes.map(|file| format!("shapes/{name}/{file}")));
            files.push(format!("shapes/{name}/wire.pvd"));
        }
        files
    }

    fn keep(
        &self,
        folder: &Path,
        strategy: &StrategyLabel,
        record: &TrialRecord,
    ) -> Result<(), KeepError> {
        let name = trial_name(strategy, record.row.trial);
        if !record.trace.is_empty() {
            let traces = folder.join("traces");
            fs::create_dir_all(&traces).map_err(KeepError::at(&traces))?;
            write_trace(&traces.join(format!("{name}.csv")), &record.trace)?;
        }
        if !record.hands.is_empty() {
            let hands = folder.join("hands");
            fs::create_dir_all(&hands).map_err(KeepError::at(&hands))?;
            write_hands(&hands.join(format!("{name}.csv")), &record.hands)?;
        }
        if !record.shapes.is_empty() {
            let shapes = folder.join("shapes").join(&name);
            fs::create_dir_all(&shapes).map_err(KeepError::at(&shapes))?;
            let mut files = Vec::with_capacity(record.shapes.len());
            for (step, shape) in record.shapes.iter().enumerate() {
                let file = wire_file(step);
                write_wire(&shapes.join(&file), shape)?;
                files.push((step as f64, file));
            }
            write_collection(&shapes.join("wire.pvd"), &files)?;
        }
        Ok(())
    }

    /// The typical trial of each strategy, for its film, unless nothing is to be recorded.
    fn wanted(&self, plan: &Plan, rows: &[Vec<TrialRow>]) -> Vec<(usize, u32)> {
        if self.stage.is_none() || plan.recorded == 0 {
            return Vec::new();
        }
        let typical = rows.iter().map(|rows| typical(rows)).enumerate();
        typical
            .filter_map(|(strategy, row)| Some((strategy, row?.trial)))
            .filter(|(_, trial)| *trial >= plan.recorded)
            .collect()
    }

    fn finish(&self, folder: &Path, plan: &Plan, rows: &[Vec<TrialRow>]) -> Result<(), KeepError> {
        let mut summary = summary(plan, rows);
        summary.anatomy_as_read.clone_from(&self.anatomy_as_read);
        let write = |name: &str, text: String| write_file(&folder.join(name), text);
        write_trials(&folder.join("trials.csv"), rows.iter().flatten())?;
        let json = serde_json::to_string_pretty(&summary)
            .map_err(|e| KeepError::at(&folder.join("summary.json"))(io::Error::from(e)))?;
        write("summary.json", json + "\n")?;
        write("report.md", report_page(&summary))?;
        write_vessel(&folder.join("vessel.vtp"), &self.outline)?;

        let figures = folder.join("figures");
        fs::create_dir_all(&figures).map_err(KeepError::at(&figures))?;
        let wires = self.wires.iter().map(|(name, _)| name.clone()).collect();
        let rates = Rates {
            scenario: plan.scenario.clone(),
            target: self.outline.target.clone(),
            wires,
            strategies: summary.strategies.clone(),
        };
        save(&figures, &rates)?;
        let comparison = Comparison {
            scenario: plan.scenario.clone(),
            target: self.outline.target.clone(),
            wires: rates.wires.clone(),
            strategies: summary.strategies.clone(),
        };
        save(&figures, &comparison)?;
        let outcomes = Outcomes {
            scenario: plan.scenario.clone(),
            strategies: summary.strategies,
        };
        save(&figures, &outcomes)?;
        self.draw_recorded(folder, &figures, plan, rows)
    }

    fn finish_map(
        &self,
        folder: &Path,
        plan: &Plan,
        pressed: &[Vec<Vec<Pressed>>],
    ) -> Result<(), KeepError> {
        write_map(self, folder, plan, pressed)
    }
}

impl StudyWriter {
    /// A writer for a scenario that is ready to run, and the tree that its file of anatomy became.
    #[must_use]
    pub fn new(prepared: &Prepared, imported: Option<&Imported>) -> Self {
        let wires = &prepared.scenario().wires;
        Self {
            outline: SceneOutline::new(prepared),
            wires: wires
                .iter()
                .map(|w| (w.name.clone(), w.diameter_mm))
                .collect(),
            anatomy_as_read: imported.map_or_else(Vec::new, Imported::as_read),
            stage: Some(Stage::new(prepared)),
        }
    }

    /// Figures made from the recorded trials; without any, only the vessel is drawn.
    fn draw_recorded(
        &self,
        folder: &Path,
        figures: &Path,
        plan: &Plan,
        trials: &[Vec<TrialRow>],
    ) -> Result<(), KeepError> {
        let mut panels = Vec::new();
        let mut rows: Vec<SceneRow> = Vec::new();
        for (strategy, trials) in plan.strategies.iter().zip(trials) {
            if let Some(film) = film(self, folder, plan, strategy, trials)? {
                save(figures, &film)?;
            }
            let recorded = read_recorded(folder, strategy, plan.recorded, trials)?;
            if recorded.is_empty() {
                continue;
            }
            let ends = self.drawn(strategy, &recorded, final_shapes)?;
            match rows.iter_mut().find(|r| r.title == strategy.technique) {
                Some(row) => row.wires.push(ends),
                None => rows.push(SceneRow {
                    title: strategy.technique.clone(),
                    wires: vec![ends],
                }),
            }
            let course = SceneRow {
                title: strategy.name.clone(),
                wires: vec![self.drawn(strategy, &recorded, first_trial_in_steps)?],
            };
            let covers = &course.wires[0].covers;
            let band = if covers.iter().any(|c| c.0.len() > 1) {
                "; pale band: support catheter"
            } else {
                ""
            };
            let scene = self.scene(
                format!("scene-{}", strategy.slug),
                "One trial from start to end",
                format!(
                    "{}; trial {}, later shapes darker; thin lines: tip paths of all recorded \
                     trials; wire thickness to scale{band}",
                    plan.scenario, recorded[0].trial
                ),
                vec![course],
            );
            save(figures, &scene)?;
            panels.push(ForcePanel {
                technique: strategy.technique.clone(),
                wire: strategy.wire.clone(),
                trials: recorded.into_iter().map(|r| r.trace).collect(),
            });
        }
        if !panels.is_empty() {
            let forces = Forces {
                scenario: plan.scenario.clone(),
                panels,
            };
            save(figures, &forces)?;
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
        let subtitle = format!("{}; {what}", plan.scenario);
        let scene = self.scene("scene".to_owned(), title, subtitle, rows);
        save(figures, &scene)
    }

    fn scene(&self, name: String, title: &str, subtitle: String, rows: Vec<SceneRow>) -> Scene {
        Scene {
            name,
            title: title.to_owned(),
            subtitle,
            outline: self.outline.clone(),
            rows,
        }
    }

    fn drawn(
        &self,
        strategy: &StrategyLabel,
        recorded: &[Recorded],
        choose: fn(&[Recorded], &mut DrawnWire) -> Result<(), KeepError>,
    ) -> Result<DrawnWire, KeepError> {
        let index = self.wires.iter().position(|(n, _)| *n == strategy.wire);
        let colour = index.unwrap_or(0);
        let mut wire = DrawnWire {
            label: strategy.wire.clone(),
            colour,
            diameter_mm: self.wires.get(colour).map_or(0.0, |w| w.1),
            shapes: Vec::new(),
            covers: Vec::new(),
            tip_paths: Vec::new(),
            ends: recorded.iter().filter_map(Recorded::end).collect(),
        };
        choose(recorded, &mut wire)?;
        Ok(wire)
    }
}

impl Recorded {
    /// How and where the trial ended.
    fn end(&self) -> Option<TrialEnd> {
        self.trace.last().map(|row| TrialEnd {
            trial: self.trial,
            tip_mm: tip(row),
            outcome: self.outcome,
        })
    }
}

pub(super) fn tip(row: &TraceRow) -> Vector3<f64> {
    Vector3::new(row.tip_x_mm, row.tip_y_mm, row.tip_z_mm)
}

/// Draws a shape with this strength, and the catheter over it.
fn add_shape(wire: &mut DrawnWire, shape: WireShape, strength: f64) {
    let covered = covered(&shape, wire.diameter_mm);
    let diameter_mm = shape.diameter_mm.first().copied().unwrap_or(0.0);
    wire.covers
        .push((shape.nodes_mm[..covered].to_vec(), diameter_mm));
    wire.shapes.push((shape.nodes_mm, strength));
}

/// How many nodes of a shape, from its first, a catheter covers.
pub(super) fn covered(shape: &WireShape, wire_diameter_mm: f64) -> usize {
    let thicker = |d: &&f64| **d > 1.001 * wire_diameter_mm;
    shape.diameter_mm.iter().take_while(thicker).count()
}

/// The last shape of each recorded trial.
fn final_shapes(recorded: &[Recorded], wire: &mut DrawnWire) -> Result<(), KeepError> {
    for trial in recorded {
        if let Some(last) = trial.count.checked_sub(1) {
            let shape = read_wire(&trial.shapes.join(wire_file(last)))?;
            add_shape(wire, shape, 1.0);
        }
    }
    Ok(())
}

/// Some shapes of the first recorded trial, later ones stronger, and all tip paths.
fn first_trial_in_steps(recorded: &[Recorded], wire: &mut DrawnWire) -> Result<(), KeepError> {
    if let Some(trial) = recorded.first() {
        let shown = trial.count.min(SHAPES_IN_FIGURE);
        for rank in 0..shown {
            let step = (trial.count - 1) * rank / (shown - 1).max(1);
            let shape = read_wire(&trial.shapes.join(wire_file(step)))?;
            let strength = 0.25 + 0.75 * (rank + 1) as f64 / shown as f64;
            add_shape(wire, shape, strength);
        }
    }
    for trial in recorded {
        wire.tip_paths.push(trial.trace.iter().map(tip).collect());
    }
    Ok(())
}

/// The recorded trials of a strategy that left a trace.
fn read_recorded(
    folder: &Path,
    strategy: &StrategyLabel,
    recorded: u32,
    trials: &[TrialRow],
) -> Result<Vec<Recorded>, KeepError> {
    let mut found = Vec::new();
    for row in trials.iter().filter(|row| row.trial < recorded) {
        let name = trial_name(strategy, row.trial);
        let path = folder.join("traces").join(format!("{name}.csv"));
        if path.exists() {
            let shapes = folder.join("shapes").join(&name);
            let count = (0..)
                .take_while(|&step| shapes.join(wire_file(step)).exists())
                .count();
            found.push(Recorded {
                trial: row.trial,
                outcome: row.outcome,
                trace: read_trace(&path)?,
                shapes,
                count,
            });
        }
    }
    Ok(found)
}

pub(super) fn trial_name(strategy: &StrategyLabel, trial: u32) -> String {
    format!("{}-{trial}", strategy.slug)
}

pub(super) fn wire_file(step: usize) -> String {
    format!("wire-{step:04}.vtp")
}
