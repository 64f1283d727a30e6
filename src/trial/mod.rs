//! One trial: variation, the loop of looking and moving, recording, outcome.

mod begin;
mod carry;
mod course;
mod crossing;
mod ending;
mod first_wire;
mod fit;
mod moving;
mod obstacle_check;
mod peaks;
mod places;
mod prepared;
mod reaching;
mod recorder;
pub mod result;
mod route;
mod run;
mod screen;
mod setup;
mod technique_check;
mod variation;
mod view_study;
mod watch;
mod wire_need;

pub use course::{COURSE_MM, Course, PointReading, REVEALED_SD};
pub use moving::{MotionFault, PUBLISHED_MM_PER_S};
pub use obstacle_check::ObstacleFault;
pub use places::{LEAVING_GUIDE_MM, Places, WallPlace};
pub use prepared::{BuiltVessel, Prepared, Strategy, strategies};
pub use reaching::Reaching;
pub use route::{Route, TreePosition, WayMade};
pub use run::run_trial;
pub use setup::SetupError;
pub use technique_check::TechniqueFault;
pub use variation::Variation;
pub use view_study::{Examined, Run, ViewError, ViewRequest, ViewStudy, Worked};
