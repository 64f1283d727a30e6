//! A vessel that gives way: beams on their bed, bends that are straightened, axes that move.

mod alone;
mod beating;
mod heart;
mod straightened;
