//! Figures, drawn once, as SVG, from which the PNG is made.
//!
//! A figure says its size and draws itself with a [`Pen`]. The look: one palette of muted colours that
//! stays distinct for colour-blind readers, thin grey frames, words instead of codes, units in every
//! axis name.

mod axis;
mod board;
mod canvas;
mod comparison;
mod discs;
mod film;
mod font;
mod forces;
mod gif;
mod labels;
mod moving_film;
mod outcomes;
pub(super) mod palette;
mod pen;
mod projection;
mod rates;
mod reached;
mod scene;
mod seen;
mod strategies;
pub mod sweep;
mod tree;
mod view_map;
mod wall_map;

pub(super) use axis::{Plot, Tick, round_step};
pub use canvas::{Figure, FigureError, draw_svg, picture, save, save_all};
pub use comparison::Comparison;
pub use film::{Film, FilmFrame, FilmWindow};
pub(super) use font::{text_width, wrap};
pub(super) use forces::distinct;
pub use forces::{ForcePanel, Forces};
pub use moving_film::MovingFilm;
pub use outcomes::Outcomes;
pub(super) use palette::wire_colour;
pub use pen::Pen;
pub(super) use pen::{Align, Type};
pub use rates::Rates;
pub use reached::ReachedPicture;
pub use scene::{DrawnWire, Scene, SceneRow, TrialEnd};
pub use seen::{SeenPair, SeenPanel};
pub(super) use strategies::{HEADING_BOTTOM, MARGIN, WIDTH, heading};
pub use tree::{TreeBranch, TreePicture};
pub use view_map::{MapMark, MapPanel, ViewMapFigure};
pub use wall_map::{WallMap, WallMark};
