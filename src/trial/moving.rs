//! A vessel that moves with the heart and with the breath: what of it acts in a trial, and where it cannot.
//!
//! A trial is told in the frame of the guide's end, which rides with the vessel in which it stands and keeps
//! its direction: forces hang on nothing but the movement against it. The breath moves all as one and acts on
//! what is seen alone ([`Image`]).

use std::sync::Arc;

use nalgebra::{Rotation3, Vector3};

use super::prepared::Prepared;
use super::setup::SetupError;
use crate::scenario::Warning;
use crate::scenario::model::{BreathSpec, HeartCourse, HeartSpec, TechniqueSpec};
use crate::technique::Loading;
use crate::vessel::{
    Beat, BeatFault, Bed, BranchSwing, GivingVessel, Motion, MovedTree, Tree, pause_in_s, swings,
    tightest,
};

/// Speeds in mm/s of segments of coronary arteries in a cross-section (Mao et al., J. Comput. Assist.
/// Tomogr. 2000;24:253-258).
pub const PUBLISHED_MM_PER_S: [f64; 2] = [22.0, 109.0];
/// How far the vessel may move against the guide's end where that is pointed anew, over its lumen's radius.
const LEAST_AT_GUIDE: f64 = 0.5;

/// Why a vessel cannot move as it is said.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum MotionFault {
    /// The wall is that of a surface.
    #[error(
        "the heart moves the axes of a vessel, and a wall that is a surface, or has a fold, hangs on none"
    )]
    Surface,
    /// Two wires side by side.
    #[error(
        "technique {0:?} cannot be tried in a vessel that beats: two wires side by side are not solved together \
         with it"
    )]
    SidePort(String),
    /// Something stands in the lumen.
    #[error("{0} would stay where it is while the vessel beats")]
    Body(String),
    /// A branch cannot move so.
    #[error(transparent)]
    Beat(#[from] BeatFault),
    /// The vessel would be folded.
    #[error(
        "branch {branch:?} would be folded: {station_mm:.1} mm from its start it is bent with a radius of \
         {bend_mm:.2} mm at {percent:.0} % of the beat, and its lumen radius there is {lumen_mm:.2} mm; allowed is \
         a bend wider than the lumen radius"
    )]
    Fold {
        /// The branch.
        branch: String,
        /// Where, in mm from its start.
        station_mm: f64,
        /// When, in per cent of the beat.
        percent: f64,
        /// Radius of the bend in mm.
        bend_mm: f64,
        /// Radius of the lumen in mm.
        lumen_mm: f64,
    },
    /// A step takes more than a fifth of a beat.
    #[error(
        "a beat takes {beat_s:.2} s, and a step of {step_mm} mm at {speed_mm_per_s} mm/s {step_s:.2} s; allowed is a \
         step shorter than a fifth of a beat"
    )]
    ShortBeat {
        /// Duration of a beat in s.
        beat_s: f64,
        /// Length of a step in mm.
        step_mm: f64,
        /// Speed of feeding in mm/s.
        speed_mm_per_s: f64,
        /// Duration of a step in s.
        step_s: f64,
    },
    /// The guide is brought where the vessel moves against it.
    #[error(
        "technique {technique:?} brings the guide to where the vessel moves by {way_mm:.1} mm against its first \
         place; allowed is up to {allowed_mm:.1} mm, half of the lumen's radius"
    )]
    GuideAim {
        /// The technique.
        technique: String,
        /// How far the vessel moves there, in mm.
        way_mm: f64,
        /// How far it may, in mm.
        allowed_mm: f64,
    },
    /// A technique waits for diastole where there is none.
    #[error("technique {0:?} feeds in diastole, and no heart beats")]
    NoDiastole(String),
}

impl MotionFault {
    /// What to do about it.
    #[must_use]
    pub fn remedy(&self) -> &'static str {
        match self {
            Self::Surface => {
                "leave out [vessel.motion.heart], or give the vessel as centrelines without folds"
            }
            Self::SidePort(_) => "leave out [vessel.motion.heart], or that technique",
            Self::Body(_) => "leave out [vessel.motion.heart], or that body",
            Self::Beat(BeatFault::Along { .. }) => "give another direction, across the branch",
            Self::Beat(BeatFault::Short { .. }) => "let it go less far",
            Self::Fold { .. } => {
                "lower curvature_gain_per_cm, or raise bends_every_mm; of a file, look at the branch there"
            }
            Self::ShortBeat { .. } => "lower step_mm, or raise feed_speed_mm_per_s of [solver]",
            Self::GuideAim { .. } => "point the guide less deep",
            Self::NoDiastole(_) => "add [vessel.motion.heart], or write feeds = \"any-time\"",
        }
    }
}

/// The movement of a vessel, made ready.
#[derive(Debug, Clone)]
pub(super) struct Moving {
    /// Movement of the axes against the guide's end.
    axes: Arc<Motion>,
    /// Movement of the guide's end with the vessel in which it stands.
    guide: Motion,
    period_s: f64,
}

/// What an operator sees of movement.
#[derive(Debug, Clone)]
pub(super) struct Image {
    /// Duration of a beat in s, if the heart beats.
    period_s: Option<f64>,
    breath: Option<BreathSpec>,
    /// The guide's end in mm.
    exit: Vector3<f64>,
}

impl Image {
    /// Time in s until the heart pauses: 0 while it does, and `None` where it does not beat.
    pub(super) fn rest_in_s(&self, time_s: f64) -> Option<f64> {
        self.period_s.map(|period_s| pause_in_s(period_s, time_s))
    }

    /// Where a point at `p` (mm, against the guide's end) is seen on the roadmap: the breath turns it about the
    /// guide's end, and moves it too where the roadmap is not laid on that.
    pub(super) fn seen(&self, p: &Vector3<f64>, time_s: f64) -> Vector3<f64> {
        let Some(breath) = &self.breath else {
            return *p;
        };
        let share = 0.5 - 0.5 * (std::f64::consts::TAU * time_s / breath.period_s).cos();
        let turned = Rotation3::new(breath.turn_rad * share) * (p - self.exit);
        let moved = if breath.roadmap_follows {
            Vector3::zeros()
        } else {
            breath.way_mm * share
        };
        self.exit + turned + moved
    }
}

impl Prepared {
    /// Whether a heart moves the vessel.
    #[must_use]
    pub fn is_beating(&self) -> bool {
        self.heart().is_some()
    }

    fn heart(&self) -> Option<&HeartSpec> {
        self.scenario().motion.as_ref()?.heart.as_ref()
    }

    /// How the vessel moves, or why it cannot.
    pub(super) fn movement(&self) -> Result<Option<Moving>, SetupError> {
        let scenario = self.scenario();
        for technique in &scenario.techniques {
            if technique.plan.needs().diastole && self.heart().is_none() {
                return Err(SetupError::Motion {
                    fault: MotionFault::NoDiastole(technique.name.clone()),
                    place: technique.place.clone(),
                });
            }
        }
        let Some(heart) = self.heart() else {
            return Ok(None);
        };
        self.moving(heart)
            .map(Some)
            .map_err(|fault| SetupError::Motion {
                fault,
                place: heart.place.clone(),
            })
    }

    fn moving(&self, heart: &HeartSpec) -> Result<Moving, MotionFault> {
        self.can_move(heart)?;
        let vessel = self.axes(self.tree());
        let guide = &self.scenario().guide;
        let branch = self.tree().branch_index(&guide.branch).unwrap_or(0);
        let beat = Beat::of(
            heart,
            self.tree(),
            vessel.knots(),
            (branch, guide.station_mm),
        )?;
        if let Some(tight) = tightest(self.tree(), vessel.knots(), &beat.motion, heart.period_s)
            && tight.bend_mm <= tight.lumen_mm
        {
            return Err(MotionFault::Fold {
                branch: self.tree().branches()[tight.branch].name.clone(),
                station_mm: tight.station_mm,
                percent: 100.0 * tight.share,
                bend_mm: tight.bend_mm,
                lumen_mm: tight.lumen_mm,
            });
        }
        let moving = Moving {
            axes: Arc::new(beat.motion),
            guide: beat.guide,
            period_s: heart.period_s,
        };
        self.guide_stays(&moving, &vessel, branch)?;
        Ok(moving)
    }

    /// Refuses what does not move with the axes, and a beat that is short for the steps that were asked for.
    fn can_move(&self, heart: &HeartSpec) -> Result<(), MotionFault> {
        let scenario = self.scenario();
        if self.surface().is_some() {
            return Err(MotionFault::Surface);
        }
        let has_port =
            |t: &&TechniqueSpec| matches!(t.plan.needs().loading, Loading::SidePort { .. });
        if let Some(technique) = scenario.techniques.iter().find(has_port) {
            return Err(MotionFault::SidePort(technique.name.clone()));
        }
        if let Some(obstacle) = scenario.obstacles.first() {
            let text = format!("the obstacle in {:?}", obstacle.branch);
            return Err(MotionFault::Body(text));
        }
        let has_balloon = |t: &&TechniqueSpec| t.aids.balloon.is_some();
        if let Some(technique) = scenario.techniques.iter().find(has_balloon) {
            let text = format!("the balloon of technique {:?}", technique.name);
            return Err(MotionFault::Body(text));
        }
        let solver = &scenario.solver;
        let step_s = solver.step_mm / solver.feed_speed_mm_per_s;
        if step_s > 0.2 * heart.period_s {
            return Err(MotionFault::ShortBeat {
                beat_s: heart.period_s,
                step_mm: solver.step_mm,
                speed_mm_per_s: solver.feed_speed_mm_per_s,
                step_s,
            });
        }
        Ok(())
    }

    /// Refuses a guide that is pointed anew where the vessel moves against it.
    fn guide_stays(
        &self,
        moving: &Moving,
        vessel: &GivingVessel,
        branch: usize,
    ) -> Result<(), MotionFault> {
        const TIMES: u32 = 100;
        let guide = &self.scenario().guide;
        let line = &self.tree().branches()[branch].centreline;
        for technique in &self.scenario().techniques {
            for aim in &technique.aids.guide_aims {
                let station_mm = guide.station_mm + aim.deeper_mm;
                let basis = vessel.knots()[branch].basis(station_mm);
                let mut moved = vec![Vector3::zeros(); vessel.controls()];
                let mut way_mm: f64 = 0.0;
                for k in 0..TIMES {
                    let share = f64::from(k) / f64::from(TIMES);
                    moving.axes.at(share * moving.period_s, &mut moved);
                    way_mm = way_mm.max(basis.at(&moved).norm());
                }
                let allowed_mm = LEAST_AT_GUIDE * line.radius(station_mm);
                if way_mm > allowed_mm {
                    return Err(MotionFault::GuideAim {
                        technique: technique.name.clone(),
                        way_mm,
                        allowed_mm,
                    });
                }
            }
        }
        Ok(())
    }

    /// The axes of a tree as the scenario's bed holds them, or carried by nothing but their own movement.
    fn axes(&self, tree: &Tree) -> GivingVessel {
        let spacing = self.scenario().solver.axis_spacing;
        match &self.scenario().bed {
            Some(bed) => GivingVessel::new(tree, Bed::from(bed).with_spacing(spacing)),
            None => GivingVessel::carried(tree),
        }
    }

    /// The lumen of a tree that gives way or moves; `None` for one that does neither.
    pub(super) fn moved_tree(&self, tree: &Arc<Tree>) -> Option<MovedTree> {
        if self.scenario().bed.is_none() && self.moves().is_none() {
            return None;
        }
        let mut vessel = self.axes(tree);
        if let Some(moving) = self.moves() {
            vessel = vessel.with_motion(Arc::clone(&moving.axes));
        }
        Some(MovedTree::new(Arc::clone(tree), Arc::new(vessel)))
    }

    /// What is seen of the movement.
    pub(super) fn image(&self) -> Image {
        let motion = self.scenario().motion.as_ref();
        Image {
            period_s: self.heart().map(|heart| heart.period_s),
            breath: motion.and_then(|motion| motion.breath.clone()),
            exit: self.guide_tip().exit,
        }
    }

    /// Beats of the heart that have passed after a time in s; 0 where none beats.
    pub(super) fn beats(&self, time_s: f64) -> f64 {
        self.heart().map_or(0.0, |heart| time_s / heart.period_s)
    }

    /// What a beat does to each branch, in the order of the branches; empty where no heart beats.
    #[must_use]
    pub fn swings(&self) -> Vec<BranchSwing> {
        let Some(moving) = self.moves() else {
            return Vec::new();
        };
        let vessel = self.axes(self.tree());
        let both = (&*moving.axes, &moving.guide);
        swings(self.tree(), vessel.knots(), both, moving.period_s)
    }

    /// A warning where the vessel moves faster than any that was measured.
    #[must_use]
    pub fn fast_walls(&self) -> Vec<Warning> {
        let Some(heart) = self.heart() else {
            return Vec::new();
        };
        let swings = self.swings();
        let named = swings.iter().zip(self.tree().branches());
        let fast = named.filter(|(swing, _)| swing.speed_mm_per_s > PUBLISHED_MM_PER_S[1]);
        let what = match &heart.course {
            HeartCourse::ByKind { .. } => "a smaller gain of curvature or way in the groove",
            HeartCourse::Phases(_) => "a look at the files of phases",
        };
        fast.map(|(swing, branch)| Warning {
            place: heart.place.clone(),
            message: format!(
                "branch \"{}\" moves at up to {:.0} mm/s, and {:.0} to {:.0} mm/s were measured: {what} may be meant",
                branch.name, swing.speed_mm_per_s, PUBLISHED_MM_PER_S[0], PUBLISHED_MM_PER_S[1]
            ),
        })
        .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::model::Place;

    fn image(roadmap_follows: bool) -> Image {
        Image {
            period_s: Some(1.0),
            breath: Some(BreathSpec {
                period_s: 4.0,
                way_mm: Vector3::new(0.0, 0.0, -5.0),
                turn_rad: Vector3::y() * 0.02,
                roadmap_follows,
                place: Place::default(),
            }),
            exit: Vector3::new(1.0, 2.0, 3.0),
        }
    }

    #[test]
    fn a_breath_turns_the_image_about_the_guides_end_and_moves_it_where_the_roadmap_stays() {
        let p = Vector3::new(101.0, 2.0, 3.0);
        for follows in [true, false] {
            let image = image(follows);
            assert!((image.seen(&p, 0.0) - p).norm() < 1e-12, "breathed out");
            assert!((image.seen(&p, 8.0) - p).norm() < 1e-9, "and again");
            let seen = image.seen(&p, 2.0);
            let turned = Vector3::new(100.0 * 0.02_f64.cos(), 0.0, -100.0 * 0.02_f64.sin());
            let moved = if follows { 0.0 } else { -5.0 };
            let expected = image.exit + turned + Vector3::z() * moved;
            assert!((seen - expected).norm() < 1e-9, "{seen} {expected}");
        }
    }

    #[test]
    fn the_heart_rests_in_the_last_part_of_a_beat() {
        let image = image(true);
        for (time_s, wait_s) in [(0.0, 0.7), (0.5, 0.2), (0.7, 0.0), (2.9, 0.0), (3.1, 0.6)] {
            let found = image.rest_in_s(time_s).unwrap_or(f64::NAN);
            assert!((found - wait_s).abs() < 1e-9, "{time_s}: {found}");
        }
    }
}
