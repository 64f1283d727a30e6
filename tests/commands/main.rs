//! The commands as a person gives them: files, messages, folders, reports, and pages in a browser.

#[path = "../shared/files_below.rs"]
mod files_below;
#[path = "../shared/long_search/mod.rs"]
mod long_search;
#[path = "../shared/skipped.rs"]
mod skipped;
#[path = "../shared/sweep_common/mod.rs"]
mod sweep_common;
#[path = "../shared/vessel_common/mod.rs"]
mod vessel_common;

#[macro_use]
mod short_way;

mod array;
mod cli_assay;
mod cli_assay_fit;
mod cli_check_refusals;
mod cli_run;
mod cli_usage;
mod evidence;
mod first_steps;
mod guide_pages;
mod hostile_input;
mod in_folder;
mod large_files;
mod lesson;
mod pages;
mod report_folder;
mod report_outline;
mod scenario_first_diagonal;
mod scenario_shipped;
mod schema;
mod steer;
mod sweep_command;
mod texts;
mod view_cli;
mod work_folder;
