//! Rod, contact, friction and solver against closed forms and independent solutions; bench tests of a wire.

#[path = "../shared/common/mod.rs"]
mod common;

mod assay_bench;
mod contact_cells;
mod counters_shipped_scenes;
mod dual_lumen;
#[cfg(feature = "faults")]
mod faults;
mod giving;
mod gradient_pair;
mod gradient_rod;
mod guide_backup;
mod moving_wall;
mod outside_checks;
mod readings;
mod symmetry_motion;
mod validation_core;
mod validation_friction;
mod validation_friction_tube;
mod validation_lumen;
mod validation_rod;
mod validation_telescope;
mod validation_tube_energy;
mod validation_tube_mesh;
mod validation_tube_turn;
mod wall_force;
