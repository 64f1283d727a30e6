//! A wire in hand: a person works one trial of a scenario in real time, on a page of this machine.
//!
//! The mechanics, the limits and the outcome are those of [`SteppedTrial`](crate::trial::SteppedTrial),
//! by which techniques run too. `session` keeps the movements on the disk, `engine` makes them on a thread
//! of its own, `scene` and `moment` are what the page is told, `kept` what it was told earlier, `study_file` and `compare` lay the session
//! beside the techniques of its study, and `server` lets one page of this machine in and nobody else
//! (`guard`).

mod compare;
mod engine;
mod guard;
mod kept;
mod moment;
mod replay;
mod scene;
mod server;
mod session;
mod study_file;

pub use engine::Worked;
pub use server::{LiveError, Served, Stop, serve};
pub use session::{Session, SessionError};
pub use study_file::{STUDY_FILE, write_study};
