//! Devices: from catalogue quantities to profiles along the wire.
