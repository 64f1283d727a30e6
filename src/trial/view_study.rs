//! A scene looked at: which views open its branchings, and what runs show what a view costs.
//!
//! A run is a trial of the redirecting technique that sees nothing but one projection. The runs
//! of one branching and wire differ in the view (and in the roadmap) alone, on the same draws.

use super::course::CourseReading;
use super::prepared::{Prepared, Strategy, slug};
use super::reaching::Reaching;
use super::result::TrialRecord;
use super::run::run_trial;
use super::setup::SetupError;
use crate::projection::{
    CArm, ChosenViews, Distances, ProjectionError, Site, SiteError, Subject, ViewMap, choose,
};
use crate::scenario::model::{AidsSpec, PlanSpec, Scenario, TechniqueSpec};
use crate::scenario::view::{SightSpec, ViewAngles, ViewSpec};
use crate::technique::{Feeds, Redirect};
use crate::vessel::Onward;

/// Degrees between two views of the map.
const STEP_DEG: usize = 1;
/// Attempts and distance of withdrawal in mm where the scenario has no redirecting technique.
const DEFAULT_ATTEMPTS: u32 = 5;
const DEFAULT_WITHDRAW_MM: f64 = 3.0;
/// Wire that may be fed, over the path to the target, where the scenario's own limit is too
/// short for another target.
const RESERVE: f64 = 1.5;

/// Why a scene cannot be looked at.
#[derive(Debug, thiserror::Error)]
pub enum ViewError {
    /// The scene lies in no patient.
    #[error(
        "the scene has no patient frame, so LAO, RAO, CRA and CAU mean nothing in it; add a table [view] with patient_frame = [\"left\", \"head\", \"front\"] (where x, y and z point in the patient)"
    )]
    NoFrame,
    /// No such place in the tree.
    #[error(transparent)]
    Site(#[from] SiteError),
    /// It cannot be projected.
    #[error(transparent)]
    Projection(#[from] ProjectionError),
    /// A scene with another target or another belief cannot be made ready.
    #[error("the runs into {branch:?} cannot be made ready: {cause}")]
    Runs {
        /// The branch.
        branch: String,
        /// Why.
        cause: Box<SetupError>,
    },
}

/// What is asked.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ViewRequest {
    /// What to look at; empty for what the scenario says.
    pub subjects: Vec<Subject>,
    /// The current view in place of the scenario's.
    pub current: Option<ViewAngles>,
    /// Leave the runs out.
    pub without_runs: bool,
}

/// A place with its views.
#[derive(Debug, Clone)]
pub struct Examined {
    /// The place.
    pub site: Site,
    /// All views.
    pub map: ViewMap,
    /// The views that matter.
    pub answer: ChosenViews,
    /// The ostium from two views; `None` for a stretch.
    pub course: Option<CourseReading>,
    /// Why there are no runs for it, if there are none.
    pub without_runs: Option<String>,
}

/// With what the operator of a run works.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WorkedView {
    /// The current view and the roadmap that is believed.
    Current,
    /// The recommended view and the roadmap that is believed.
    Recommended,
    /// The recommended view and the roadmap as two views have corrected it.
    Corrected,
}

/// One run: a branching, a wire, a view.
#[derive(Debug, Clone)]
pub struct ViewRun {
    /// Index of the place.
    pub site: usize,
    /// Index of the wire.
    pub wire: usize,
    /// View and roadmap.
    pub worked: WorkedView,
    /// Index of the scene made ready.
    prepared: usize,
    /// Names and technique.
    pub strategy: Strategy,
}

/// A scene looked at.
#[derive(Debug, Clone)]
pub struct ViewStudy {
    /// The C-arm.
    pub c_arm: CArm,
    /// What the scenario says about looking, with the current view that was asked for.
    pub spec: ViewSpec,
    /// The places.
    pub examined: Vec<Examined>,
    /// The runs: for each place and wire current, recommended and, where beliefs are wrong,
    /// corrected.
    pub runs: Vec<ViewRun>,
    scenes: Vec<Prepared>,
}

impl ViewStudy {
    /// Looks at a scene.
    ///
    /// # Errors
    /// A [`ViewError`].
    pub fn new(prepared: &Prepared, request: &ViewRequest) -> Result<Self, ViewError> {
        let scenario = prepared.scenario();
        let mut spec = scenario.view.clone().ok_or(ViewError::NoFrame)?;
        spec.current = request.current.unwrap_or(spec.current);
        let c_arm = CArm {
            to_patient: spec.frame.to_patient,
            distances: Some(Distances {
                source_object_mm: spec.source_object_mm,
                source_detector_mm: spec.source_detector_mm,
            }),
            reach: spec.reach,
        };
        let mut study = Self {
            c_arm,
            examined: Vec::new(),
            runs: Vec::new(),
            scenes: Vec::new(),
            spec,
        };
        for subject in study.subjects(scenario, request) {
            let site = Site::new(prepared.tree(), &subject, study.spec.near_mm)?;
            let map = ViewMap::new(&site, &c_arm, STEP_DEG)?;
            let answer = choose(&site, &c_arm, &map, study.spec.current);
            let course = CourseReading::read(prepared, &study.spec, &c_arm, &site, &answer)?;
            study.examined.push(Examined {
                site,
                map,
                answer,
                course,
                without_runs: None,
            });
            if let Err(reason) = study.add_runs(prepared, request)?
                && let Some(last) = study.examined.last_mut()
            {
                last.without_runs = Some(reason);
            }
        }
        Ok(study)
    }

    fn subjects(&self, scenario: &Scenario, request: &ViewRequest) -> Vec<Subject> {
        if !request.subjects.is_empty() {
            let mut once: Vec<Subject> = Vec::new();
            for subject in &request.subjects {
                if !once.contains(subject) {
                    once.push(subject.clone());
                }
            }
            return once;
        }
        let branching = |branch: &String| Subject::Branching {
            branch: branch.clone(),
        };
        if self.spec.branches.is_empty() {
            vec![branching(&scenario.target.branch)]
        } else {
            self.spec.branches.iter().map(branching).collect()
        }
    }

    /// Adds the runs of the last place; says why where there are none.
    fn add_runs(
        &mut self,
        prepared: &Prepared,
        request: &ViewRequest,
    ) -> Result<Result<(), String>, ViewError> {
        let index = self.examined.len() - 1;
        let Examined {
            site,
            answer,
            course,
            ..
        } = &self.examined[index];
        if request.without_runs {
            return Ok(Err("left out as asked".to_owned()));
        }
        if site.mouth.is_none() {
            return Ok(Err("a stretch has no branch to be entered".to_owned()));
        }
        let scenario = match into(prepared, site.branch) {
            Ok(scenario) => scenario,
            Err(reason) => return Ok(Err(reason)),
        };
        let mut ways = vec![
            (WorkedView::Current, answer.current.view, "current view"),
            (
                WorkedView::Recommended,
                answer.recommended.view,
                "recommended view",
            ),
        ];
        let corrected = course.as_ref().and_then(|c| c.corrected.clone());
        if corrected.is_some() {
            let what = "recommended view, course corrected";
            ways.push((WorkedView::Corrected, answer.recommended.view, what));
        }
        let branch = prepared.tree().branches()[site.branch].name.clone();
        let mut scenes = Vec::new();
        let mut runs = Vec::new();
        for (wire, spec) in scenario.wires.iter().enumerate() {
            for &(worked, view, what) in &ways {
                let mut scene = scenario.clone();
                scene.techniques = vec![seen_in(prepared.scenario(), view)];
                if let (WorkedView::Corrected, Some(belief), Some(view)) =
                    (worked, &corrected, &mut scene.view)
                {
                    view.beliefs.retain(|b| b.branch != belief.branch);
                    view.beliefs.push(belief.clone());
                }
                if wire == 0 {
                    let ready = Prepared::new(&scene).map_err(|cause| ViewError::Runs {
                        branch: branch.clone(),
                        cause: Box::new(cause),
                    })?;
                    scenes.push(ready);
                }
                let name = format!("{}, {}, {what} ({view})", site.name, spec.name);
                let way = ways.iter().position(|w| w.0 == worked).unwrap_or(0);
                runs.push(ViewRun {
                    site: index,
                    wire,
                    worked,
                    prepared: self.scenes.len() + way,
                    strategy: Strategy {
                        slug: slug(&name),
                        name,
                        wire,
                        technique: 0,
                    },
                });
            }
        }
        self.scenes.extend(scenes);
        self.runs.extend(runs);
        Ok(Ok(()))
    }

    /// Runs trial `trial` of run number `run`.
    #[must_use]
    pub fn run(&self, run: usize, trial: u32) -> TrialRecord {
        let run = &self.runs[run];
        // Views keep no map of wall forces.
        TrialRecord {
            pressed: Vec::new(),
            ..run_trial(&self.scenes[run.prepared], &run.strategy, trial, false)
        }
    }
}

/// The scenario with another branch as its target; why not, where the guide does not lead there.
fn into(prepared: &Prepared, branch: usize) -> Result<Scenario, String> {
    let tree = prepared.tree();
    let target = &tree.branches()[branch];
    let mut scenario = prepared.scenario().clone();
    let guide = &scenario.guide;
    let mut at = Some(branch);
    while let Some(b) = at {
        if tree.branches()[b].name == guide.branch {
            break;
        }
        at = tree.branches()[b].parent.map(|(parent, _)| parent);
    }
    if at.is_none() || target.name == guide.branch {
        return Err(format!(
            "{} does not lie downstream of the guide, which ends in {}",
            target.name, guide.branch
        ));
    }
    let reaching = Reaching::of(&scenario.target, tree, prepared.lumen(), branch);
    let length = Onward::new(tree, branch, 0.0, branch).length_mm();
    if reaching.room_mm() > length {
        return Err(format!(
            "{} ends {length:.1} mm from its start, and a tip that is to reach it needs {:.1} mm: whole mouth, beyond_ostium_mm and hold",
            target.name,
            reaching.room_mm()
        ));
    }
    let needed = tree.progress_mm(branch, reaching.room_mm()) - prepared.guide_progress_mm();
    if scenario.target.max_fed_mm <= needed {
        scenario.target.max_fed_mm = RESERVE * needed;
    }
    scenario.target.branch.clone_from(&target.name);
    Ok(scenario)
}

/// The scenario's first redirecting technique, seeing one view alone.
fn seen_in(scenario: &Scenario, view: ViewAngles) -> TechniqueSpec {
    let mut techniques = scenario.techniques.iter();
    let redirect = techniques.find_map(|technique| match &technique.plan {
        PlanSpec::Redirect(settings) => Some((technique, settings)),
        _ => None,
    });
    let (attempts, withdraw_to_mm) = redirect
        .map_or((DEFAULT_ATTEMPTS, DEFAULT_WITHDRAW_MM), |(_, settings)| {
            (settings.attempts, settings.withdraw_to_mm)
        });
    TechniqueSpec {
        name: format!("redirect seen in {view}"),
        plan: PlanSpec::Redirect(Redirect {
            attempts,
            withdraw_to_mm,
            turn_rad: None,
            beyond_rad: None,
            rock_rad: 0.0,
            feeds: Feeds::AnyTime,
        }),
        aids: AidsSpec::default(),
        sight: SightSpec::Projected(view),
        place: redirect
            .map(|(technique, _)| technique.place.clone())
            .unwrap_or_default(),
    }
}
