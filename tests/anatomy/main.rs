//! Files of anatomy: what is read, mended, refused and written.

#[path = "../shared/anatomy_common/mod.rs"]
mod anatomy_common;
#[path = "../shared/common/mod.rs"]
mod common;
#[path = "../shared/long_search/mod.rs"]
mod long_search;

mod anatomy_export;
mod anatomy_files;
mod anatomy_fuzz;
mod anatomy_names;
mod anatomy_phases;
mod anatomy_readers;
mod anatomy_real;
mod anatomy_refusals;
mod anatomy_surface;
mod anatomy_techniques;
mod anatomy_tree;
mod anatomy_wire;
