//! Defaults of fields, for `#[serde(default = "...")]`, which takes no literal.

/// A whole number of something.
#[must_use]
pub fn count<const N: u32>() -> u32 {
    N
}

/// A number without fraction.
#[must_use]
pub fn number<const N: i32>() -> f64 {
    f64::from(N)
}

/// A number in hundredths.
#[must_use]
pub fn hundredths<const N: i32>() -> f64 {
    f64::from(N) / 100.0
}

/// An angle in rad, said in degrees.
#[must_use]
pub fn degrees<const N: i32>() -> f64 {
    f64::from(N).to_radians()
}
