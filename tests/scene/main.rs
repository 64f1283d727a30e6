//! Vessels, devices and views as a scenario describes them.

#[path = "../shared/vessel_common/mod.rs"]
mod vessel_common;

mod device_mesh;
mod device_profiles;
mod device_refusals;
mod device_scene;
mod device_tip_load;
mod vessel_beating;
mod vessel_derivatives;
mod vessel_distance;
mod vessel_mouth;
mod vessel_oracle;
mod vessel_published_tree;
mod vessel_refusals;
mod vessel_shapes;
mod view_projection;
mod view_sight;
