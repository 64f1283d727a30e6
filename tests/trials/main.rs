//! What trials of shipped scenarios come to, and what their outcomes may depend on.

#[path = "../shared/common/mod.rs"]
mod common;

mod angled_catheter_reach;
mod beating;
mod by_hand;
mod contact_between_points;
mod first_wire;
mod giving_refined;
mod locked_by_friction;
mod looped_back;
mod moved_vessel;
mod reached_and_held;
mod settings_convergence;
mod sharp_turns;
