//! Values made of several numbers: points, profiles along a vessel or a wire.

use schemars::{Schema, SchemaGenerator, json_schema};
use serde_json::Value;

/// A point in mm.
#[must_use]
pub fn point_mm(_: &mut SchemaGenerator) -> Schema {
    json_schema!({
        "type": "array", "minItems": 3, "maxItems": 3,
        "items": { "type": "number", "minimum": -1e4, "maximum": 1e4, "x-unit": "mm" },
    })
}

/// Pairs of a distance in mm, 0 to 1e4, and a value with its own range and unit.
#[must_use]
pub fn profile(value: &Value, unit: &str) -> Schema {
    json_schema!({
        "type": "array", "minItems": 1,
        "x-remedy": format!("give pairs [distance in mm, value in {unit}]"),
        "items": {
            "type": "array", "minItems": 2, "maxItems": 2,
            "prefixItems": [
                { "type": "number", "minimum": 0, "maximum": 1e4, "x-unit": "mm" },
                value,
            ],
        },
    })
}

/// Lumen diameters along a branch.
#[must_use]
pub fn lumen_profile(_: &mut SchemaGenerator) -> Schema {
    profile(&lumen_mm(), "mm")
}

/// Range of a lumen diameter.
#[must_use]
pub fn lumen_mm() -> Value {
    serde_json::json!({ "type": "number", "exclusiveMinimum": 0, "maximum": 40, "x-unit": "mm" })
}

/// Bending stiffness along a device.
#[must_use]
pub fn bending_profile(_: &mut SchemaGenerator) -> Schema {
    let value = serde_json::json!({
        "type": "number", "exclusiveMinimum": 0, "maximum": 1e4, "x-unit": "N mm²",
    });
    profile(&value, "N mm²")
}

/// Core diameters along a wire.
#[must_use]
pub fn core_profile(_: &mut SchemaGenerator) -> Schema {
    let value = serde_json::json!({
        "type": "number", "minimum": 0.01, "maximum": 1, "x-unit": "mm", "x-suspect": "core",
    });
    profile(&value, "mm")
}
