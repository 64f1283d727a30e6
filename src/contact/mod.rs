//! Contact of the wire with the wall.
