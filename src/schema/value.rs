//! Values of a parsed file, as messages show them.

use toml::de::{DeInteger, DeValue};

/// A whole number, whatever its radix.
pub(super) fn whole(integer: &DeInteger<'_>) -> Option<i128> {
    i128::from_str_radix(integer.as_str(), integer.radix()).ok()
}

/// A number, whole or not.
pub(super) fn number(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Float(float) => float.as_str().parse().ok(),
        DeValue::Integer(integer) => whole(integer).map(|value| value as f64),
        _ => None,
    }
}

/// A value as messages show it, and the name of its type.
pub(super) fn shown(value: &DeValue<'_>) -> (String, &'static str) {
    match value {
        DeValue::String(text) => (format!("\"{text}\""), "a text"),
        DeValue::Integer(integer) => (integer.to_string(), "a whole number"),
        DeValue::Float(float) => (float.to_string(), "a number"),
        DeValue::Boolean(truth) => (truth.to_string(), "true or false"),
        DeValue::Datetime(date) => (date.to_string(), "a date"),
        DeValue::Array(array) => (format!("[..] of {} entries", array.len()), "a list"),
        DeValue::Table(_) => ("{..}".into(), "a table"),
    }
}
