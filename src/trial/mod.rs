//! One trial: variation, the loop of looking and moving, recording, outcome.

mod prepared;
mod recorder;
pub mod result;
mod route;
mod run;
mod screen;
mod variation;
mod watch;

pub use prepared::{Prepared, SetupError, Strategy, strategies};
pub use route::{Place, Route};
pub use run::run_trial;
pub use variation::Variation;
