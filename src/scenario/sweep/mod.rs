//! The sweep file: which parameters of a scenario vary, how, and over which points.
//!
//! # Schema
//!
//! A parameter is named by its path in the scenario, such as
//! `wire."workhorse 1 gf".bend.length_mm`: keys joined by dots, the entry of a list by its `name`
//! (or, where it has none, its `kind`, or its number counted from 1), `*` for all entries of a
//! list. A branch of a tree file stands under `vessel.branch` like any other.
//!
//! | field | meaning | range | default |
//! |---|---|---|---|
//! | `name`, `description` | as in a scenario | | |
//! | `scenario` | base scenario, path from this file | path | |
//! | `remove` | paths taken out of the scenario first | list of paths | none |
//!
//! ## `[design]`
//!
//! | field | meaning | range | default |
//! |---|---|---|---|
//! | `kind` | how the points lie | "grid", "latin-hypercube", "sobol", "pick-freeze" | |
//! | `points` | points; for pick-freeze rows of (parameters + 2) points | 1 to 1e7, sobol and pick-freeze 65536 | needed but for a grid |
//! | `trials` | trials of each strategy at every point | 1 to 1e6 | that of the scenario |
//! | `seed` | seed of design and trials | 0 to 2^63 - 1 | that of the scenario |
//!
//! ## `[[parameter]]`, one or more
//!
//! | field | meaning | range | default |
//! |---|---|---|---|
//! | `path` | a path, or a list of paths or of `{ path, times = 1, plus = 0 }` | | |
//! | `name` | name in tables and figures | letters, digits, spaces | from the path |
//! | `levels` | list of numbers or texts | 1 or more, each once | or a range |
//! | `weights` | weights of the levels where a design draws | above 0 | equal |
//! | `low`, `high` | range | low below high | |
//! | `steps` | levels between them in a grid | 2 or more | needed in a grid |
//! | `whole` | whole numbers only | true, false | false |
//! | `distribution` | of the range | "uniform", "log-uniform", "normal", "truncated-normal" | "uniform" |
//! | `mean`, `sd` | of the normal distributions | sd above 0 | |
//!
//! Texts are categories, and so are numbers that only tell things apart: a path that ends in `tip` (the
//! number of a vessel's tip) and `anatomy.draw`. Tables, figures and regressions take each of their
//! levels as a name.
//!
//! ## `[[set]]`: `path`, `value`; the same at every point
//!
//! ## `[anatomy]`
//!
//! | field | meaning | range | default |
//! |---|---|---|---|
//! | `draw` | number of the anatomy drawn (path `anatomy.draw`) | 0 to 1e9 | number of the point |
//! | `[[anatomy.branching]]` | `trunk`, `side`, `law` = "finet", "huo-kassab", "murray", "area", `over_mm` = 4 | | |
//! | `[[anatomy.curvature]]` | `branch`, `mean_per_mm`, `bend_mm` = 10 (paths `anatomy.curvature.<branch>.mean_per_mm`) | (0 to 0.5 per mm | |
//! | `[anatomy.spread]` | `file` with `[[place]]` `at`, `sd`; `together_mm` = 40; `factor` = 1 (path `anatomy.spread.factor`) | 0 to 10 | |
//!
//! ## `[map]`: `x`, `y`, `panel` (may be left out); names of parameters as in the tables
//!
//! ## `[search]`
//!
//! | field | meaning | range | default |
//! |---|---|---|---|
//! | `wall_force_limit_mN` | most force on one millimetre of wall, at any place, leaving the guide included; a trial beyond it has failed | (0 to 1e5 mN | |
//! | `confidence` | that the best candidate is not dropped | 0.5 to 0.9999 | 0.95 |
//! | `batch` | trials between two looks | 1 to 1e6 | 8 |
//! | `most_trials` | trials of a candidate at most | 1 to 1e6 | 128 |
//! | `confirm` | new draws on which the winner is measured | 0 to 1e6 | 128 |

mod anatomy;
mod load;
pub mod model;
mod parameter;

pub use load::{LoadedSweep, load_sweep, load_sweep_text};
pub use model::SweepSpec;
