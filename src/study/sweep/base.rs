//! The base scenario as a document that a point changes and the scenario reader checks again.

use std::fmt::Write as _;
use std::path::PathBuf;

use sha2::{Digest as _, Sha256};
use toml::Value;

use super::anatomy::{self, Drawer};
use super::document::{inline_tree, parse, reason, text};
use super::error::SweepError;
use super::path::ScenarioPath;
use crate::anatomy::Importer;
use crate::scenario::model::{Place, Scenario};
use crate::scenario::sweep::LoadedSweep;
use crate::scenario::sweep::model::{AnatomySpec, ParameterSpec, SweepSpec, number, shown};
use crate::scenario::{
    self, DocumentFault, Loaded, ScenarioError, Source, load_text, load_text_with,
};
use crate::schema::publish::without_directive;

/// A target of a parameter, its path read.
#[derive(Debug, Clone)]
struct Target {
    path: ScenarioPath,
    times: f64,
    plus: f64,
}

/// The base scenario of a sweep.
#[derive(Debug)]
pub struct Base {
    path: PathBuf,
    document: Value,
    parameters: Vec<ParameterSpec>,
    targets: Vec<Vec<Target>>,
    anatomy: AnatomySpec,
    drawer: Option<Drawer>,
    seed: u64,
    trials: u32,
    /// Whether a parameter names the tree file, so that it is read at every point.
    tree_varies: bool,
    /// The files of the base scenario as they are.
    original: Source,
    /// Hash of them.
    files_hash: String,
    /// Keeps the surface that the points have in common.
    importer: Importer,
    /// The base scenario with what the sweep removes and sets.
    loaded: Loaded,
}

impl Base {
    /// Reads the base scenario of a sweep, takes out and sets what the sweep says, and checks
    /// every path and every level.
    ///
    /// # Errors
    ///
    /// [`SweepError`], with the place in the sweep file.
    pub fn read(sweep: &LoadedSweep) -> Result<Self, SweepError> {
        let spec = &sweep.spec;
        let loaded = scenario::load(&spec.scenario).map_err(SweepError::Base)?;
        let files_hash = loaded.content_hash.clone();
        let files = loaded.source.clone();
        let seed = spec.seed.unwrap_or(loaded.scenario.study.seed);
        let trials = spec.trials.unwrap_or(loaded.scenario.study.trials);
        let targets = targets(spec)?;
        let is_tree = |target: &Target| target.path.plain() == Some(vec!["vessel", "tree"]);
        let tree_varies = targets.iter().flatten().any(is_tree);
        let at_base = |reason: String| SweepError::Changed {
            reason,
            place: spec.scenario_place.clone(),
        };
        let mut original = parse(&loaded.source.text).map_err(at_base)?;
        if !tree_varies {
            inline_tree(&mut original, &spec.scenario).map_err(at_base)?;
        }
        let document = changed(&original, spec, None)?;
        let path = spec.scenario.clone();
        let importer = Importer::default();
        let loaded = load_text_with(&path, text(&document).map_err(at_base)?, &importer).map_err(
            |error| SweepError::Changed {
                reason: reason(&error),
                place: culprit(&original, spec),
            },
        )?;
        let drawer = match &spec.anatomy.spread {
            Some(spread) => Some(Drawer::new(spread, spec.anatomy_place.clone(), &document)?),
            None => None,
        };
        let base = Self {
            path,
            document,
            parameters: spec.parameters.clone(),
            targets,
            anatomy: spec.anatomy.clone(),
            drawer,
            seed,
            trials,
            tree_varies,
            original: files,
            files_hash,
            importer,
            loaded,
        };
        base.check_levels()?;
        Ok(base)
    }

    /// The base scenario, read, with what the sweep sets at every point.
    #[must_use]
    pub fn loaded(&self) -> &Loaded {
        &self.loaded
    }

    /// The files of the base scenario as they are on the disk.
    #[must_use]
    pub fn original(&self) -> &Source {
        &self.original
    }

    /// SHA-256 over the sweep file and all files of the base scenario, in hexadecimal.
    #[must_use]
    pub fn content_hash(&self, sweep: &LoadedSweep) -> String {
        let spread = format!("{:?}", self.anatomy.spread);
        let mut hasher = Sha256::new();
        let sweep = without_directive(&sweep.source.text);
        for text in [sweep, &self.files_hash, &spread] {
            hasher.update((text.len() as u64).to_le_bytes());
            hasher.update(text.as_bytes());
        }
        let mut hex = String::new();
        for byte in hasher.finalize() {
            let _ = write!(hex, "{byte:02x}");
        }
        hex
    }

    /// Seed of design and trials.
    #[must_use]
    pub fn seed(&self) -> u64 {
        self.seed
    }

    /// Trials of each strategy at every point.
    #[must_use]
    pub fn trials(&self) -> u32 {
        self.trials
    }

    /// The scenario at a point: `values` for the parameters, `index` for what is drawn.
    ///
    /// # Errors
    ///
    /// Why the scenario reader refuses it, in words.
    pub fn scenario_at(&self, values: &[Value], index: usize) -> Result<Scenario, String> {
        let mut document = self.document.clone();
        let mut anatomy = self.anatomy.clone();
        let mut draw = anatomy.draw.unwrap_or(index as u64);
        for (targets, value) in self.targets.iter().zip(values) {
            for target in targets {
                let value = target.value(value);
                match target.path.plain() {
                    Some(keys) if keys.first() == Some(&"anatomy") => {
                        anatomy::set(&mut anatomy, &mut draw, &keys, &value)?;
                    }
                    _ if target.path.set(&mut document, &value) == 0 => {
                        return Err("a path of the sweep leads nowhere at this point".into());
                    }
                    _ => {}
                }
            }
        }
        if self.tree_varies {
            inline_tree(&mut document, &self.path)?;
        }
        if let (Some(drawer), Some(spread)) = (&self.drawer, &anatomy.spread) {
            drawer.perturb(&mut document, spread.factor, self.seed, draw)?;
        }
        anatomy::shape(&mut document, &anatomy, self.seed, draw)?;
        let text = text(&document)?;
        let loaded =
            load_text_with(&self.path, text, &self.importer).map_err(|error| reason(&error))?;
        let mut scenario = loaded.scenario;
        scenario.study.seed = self.seed;
        scenario.study.trials = self.trials;
        scenario.study.recorded = 0;
        Ok(scenario)
    }

    /// Tries every level of every parameter alone, so that a wrong one is refused before the
    /// work begins. What only other parameters could make wrong is left to the points.
    fn check_levels(&self) -> Result<(), SweepError> {
        for (parameter, targets) in self.parameters.iter().zip(&self.targets) {
            for (target, named) in targets.iter().zip(&parameter.targets) {
                for level in tried(parameter) {
                    self.check_level(parameter, &named.path, target, &level)?;
                }
            }
        }
        Ok(())
    }

    fn check_level(
        &self,
        parameter: &ParameterSpec,
        path: &str,
        target: &Target,
        level: &Value,
    ) -> Result<(), SweepError> {
        let place = &parameter.place;
        let value = target.value(level);
        if let Some(keys) = target.path.plain()
            && keys.first() == Some(&"anatomy")
        {
            let mut anatomy = self.anatomy.clone();
            return anatomy::set(&mut anatomy, &mut 0, &keys, &value).map_err(|reason| {
                SweepError::Level {
                    column: parameter.column.clone(),
                    level: shown(level),
                    reason,
                    place: place.clone(),
                }
            });
        }
        let mut document = self.document.clone();
        let existed = target.path.exists(&document);
        if target.path.set(&mut document, &value) == 0 {
            return Err(no_path(path, &target.path, place, &self.document, None));
        }
        let text = text(&document).map_err(|reason| SweepError::Changed {
            reason,
            place: place.clone(),
        })?;
        match load_text_with(&self.path, text, &self.importer) {
            Err(ScenarioError::Faulty(fault)) => match &fault.fault {
                DocumentFault::UnknownField { near, .. } if !existed => {
                    let near = near.as_deref();
                    Err(no_path(path, &target.path, place, &self.document, near))
                }
                DocumentFault::WrongType { .. }
                | DocumentFault::UnknownValue { .. }
                | DocumentFault::OutOfRange { .. }
                | DocumentFault::UnknownField { .. } => Err(SweepError::Level {
                    column: parameter.column.clone(),
                    level: shown(level),
                    reason: format!("{}; {}", fault.fault, fault.fault.help()),
                    place: place.clone(),
                }),
                DocumentFault::Disagreement { .. } if !existed => Err(SweepError::Level {
                    column: parameter.column.clone(),
                    level: shown(level),
                    reason: format!("{}; {}", fault.fault, fault.fault.help()),
                    place: place.clone(),
                }),
                _ => Ok(()),
            },
            _ => Ok(()),
        }
    }
}

impl Target {
    /// What is set where the parameter has `value`.
    #[expect(clippy::float_cmp, reason = "the defaults, written as such")]
    fn value(&self, value: &Value) -> Value {
        match number(value) {
            Some(number) if self.times != 1.0 || self.plus != 0.0 => {
                Value::Float(number * self.times + self.plus)
            }
            _ => value.clone(),
        }
    }
}

/// Values of a parameter that are tried before the work begins: all of a short list or of texts, the
/// least and the largest of many numbers.
fn tried(parameter: &ParameterSpec) -> Vec<Value> {
    /// Levels of a list that is tried as a whole.
    const SHORT: usize = 64;
    /// Most texts that are tried: each has the scenario read again.
    const MOST_TRIED: usize = 500;
    let Some(levels) = parameter.levels() else {
        return [1e-6, 0.5, 1.0 - 1e-6]
            .map(|u| super::design::value_at(&parameter.values, u))
            .to_vec();
    };
    if levels.len() <= SHORT || !parameter.is_number() {
        return levels.iter().take(MOST_TRIED).cloned().collect();
    }
    let by_number = |a: &&Value, b: &&Value| {
        let of = |value: &Value| number(value).unwrap_or(f64::NAN);
        of(a).total_cmp(&of(b))
    };
    let ends = [
        levels.iter().min_by(by_number),
        levels.iter().max_by(by_number),
    ];
    ends.into_iter().flatten().cloned().collect()
}

fn targets(spec: &SweepSpec) -> Result<Vec<Vec<Target>>, SweepError> {
    let of = |parameter: &ParameterSpec| {
        let one = |target: &scenario::sweep::model::TargetPath| {
            Ok(Target {
                path: parsed(&target.path, &parameter.place)?,
                times: target.times,
                plus: target.plus,
            })
        };
        parameter.targets.iter().map(one).collect()
    };
    spec.parameters.iter().map(of).collect()
}

fn parsed(text: &str, place: &Place) -> Result<ScenarioPath, SweepError> {
    ScenarioPath::parse(text).map_err(|reason| SweepError::BadPath {
        reason,
        place: place.clone(),
    })
}

fn no_path(
    text: &str,
    path: &ScenarioPath,
    place: &Place,
    document: &Value,
    field: Option<&str>,
) -> SweepError {
    let astray = path.astray(document, field);
    SweepError::NoPath {
        path: text.to_owned(),
        missing: astray.missing,
        near: astray.near,
        place: place.clone(),
    }
}

/// The document with what a sweep removes and sets, all of it or all but one change by its number.
fn changed(original: &Value, spec: &SweepSpec, but: Option<usize>) -> Result<Value, SweepError> {
    let mut document = original.clone();
    for (number, (text, place)) in spec.removed.iter().enumerate() {
        let path = parsed(text, place)?;
        if but != Some(number) && path.remove(&mut document) == 0 {
            return Err(no_path(text, &path, place, &document, None));
        }
    }
    for (number, set) in (spec.removed.len()..).zip(&spec.set) {
        let path = parsed(&set.path, &set.place)?;
        if but != Some(number) && path.set(&mut document, &set.value) == 0 {
            return Err(no_path(&set.path, &path, &set.place, &document, None));
        }
    }
    if let Some(search) = &spec.search {
        let limit = Value::Float(search.wall_force_limit_mn);
        if let Some(target) = document.get_mut("target").and_then(Value::as_table_mut) {
            target.insert("wall_force_limit_mN".into(), limit);
        }
    }
    Ok(document)
}

/// The change without which the base scenario can be used; the base scenario where there is none.
fn culprit(original: &Value, spec: &SweepSpec) -> Place {
    /// Changes that are tried.
    const TRIED: usize = 32;
    let removed = spec.removed.iter().map(|(_, place)| place.clone());
    let changes = removed.chain(spec.set.iter().map(|set| set.place.clone()));
    let is_cause = |number: usize| {
        changed(original, spec, Some(number))
            .ok()
            .and_then(|document| text(&document).ok())
            .is_some_and(|text| load_text(&spec.scenario, text).is_ok())
    };
    let cause = changes.enumerate().take(TRIED).find(|c| is_cause(c.0));
    cause.map_or_else(|| spec.scenario_place.clone(), |(_, place)| place)
}
