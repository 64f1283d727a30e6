//! The vessel: a tree of centrelines with radii, joined to one lumen.
//!
//! [`Tree::build`] turns the scenario's [`VesselSpec`](crate::scenario::model::VesselSpec) into
//! branches with smooth centrelines and into a spatial hash, so that the signed distance to the
//! lumen wall ([`Lumen`]) is found by local search, whatever the size of the tree.
//!
//! # Directions
//!
//! Every centreline carries a *running normal*: a unit vector square to the tangent that never
//! turns about it (parallel transport). Plane angles are counted about the tangent from it,
//! right-handed: angle 0 points along the running normal n, a quarter turn along t × n.
//! - At the start of an inlet, and of a branch given as points, the running normal is the global
//!   +y axis made square to the direction of the branch, or +z where the branch starts within 20
//!   degrees of the y axis.
//! - A branch built from pieces leaves its parent in the direction cos(a) T + sin(a) q, with a
//!   the take-off angle, T the parent's tangent at the attachment and q the direction that lies
//!   at the take-off plane's angle from the parent's running normal. Its own running normal
//!   starts in the take-off plane: -sin(a) T + cos(a) q, so that an arc in plane 0 goes on
//!   turning the way the take-off turned.
//!
//! # Distance
//!
//! The tube of a branch has the signed distance |p - c(s)| - r(s), with c(s) the point of the
//! centreline nearest to p; both ends are closed by half spheres. The lumen is the smooth union
//! of the tubes (see [`Tree`]). A vessel that comes from a surface has that surface as its wall
//! ([`SurfaceLumen`]); the tree then only names branches and measures progress. So does one from a
//! file that bends more tightly than its lumen is wide: its wall is that of the union of the balls
//! along the centrelines ([`lumen_of_balls`]).
mod balloon;
mod balls;
mod bed;
mod blend;
mod build;
mod centreline;
mod check;
mod course;
mod error;
mod flexible_tube;
mod foot;
mod frame;
mod grid;
mod guide_tube;
mod inflatable;
mod line;
mod lumen;
mod monotone;
mod net;
mod obstacle;
mod onward;
mod ostium;
mod path;
mod pieces;
mod radius;
mod sheets;
mod spline;
mod surface;
mod tree;

pub use balloon::Balloon;
#[cfg(feature = "program")]
pub(crate) use balls::BALLS_WITHIN_MM;
pub use balls::{Fold, folds, lumen_of_balls};
pub(crate) use bed::Part;
pub use bed::{
    AtRest, Basis, BeamEnergy, Beat, BeatFault, Bed, BranchSwing, Cycle, GivingVessel, Hang, Knots,
    Motion, MovedTree, SUPPORT, Tight, VesselReading, WallBeam, WallStiffness, pause_in_s, swings,
    tightest,
};
pub use centreline::Centreline;
pub use course::Course;
pub use error::VesselError;
pub use flexible_tube::FlexibleTube;
pub use guide_tube::WithGuide;
pub use inflatable::InflatableBalloon;
pub(crate) use line::{ControlPoint, Line, LineView, between};
pub use lumen::{Lumen, WallPoint};
#[cfg(feature = "program")]
pub(crate) use net::{MOST_WALL_CELLS, wall_cells};
pub use net::{Net, Spacing, net};
pub use obstacle::obstacle;
pub use onward::Onward;
pub use ostium::Ostium;
pub use pieces::RAMP_MM;
pub(crate) use pieces::mean_curvature;
pub use surface::SurfaceLumen;
pub use tree::{Branch, NEAR_MM, Tree, TubePoint};
