//! Pages of sweeps, bench tests and views.
