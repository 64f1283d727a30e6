//! What `bendwise view` leaves in its folder: the views of each place as tables and pictures, and
//! what the worse view costs.

mod page;
mod seen;
mod summary;
mod writer;

pub use page::view_page;
pub use summary::{
    CostLine, CourseLine, PlaceSummary, ReadPoint, ViewLine, ViewSummary, view_summary,
};
pub use writer::ViewWriter;
