//! Bytes as numbers of the types that the VTK formats know, by their XML names.

use crate::anatomy::error::{Checked, Fault, whole};

/// Bytes of one number of a type.
pub(super) fn width(kind: &str) -> Checked<usize> {
    match kind {
        "Int8" | "UInt8" | "String" => Ok(1),
        "Int16" | "UInt16" => Ok(2),
        "Int32" | "UInt32" | "Float32" => Ok(4),
        "Int64" | "UInt64" | "Float64" => Ok(8),
        _ => whole(Fault::Unsupported {
            what: format!("the number type \"{kind}\""),
            allowed: "Int8 to UInt64, Float32 or Float64",
        }),
    }
}

/// Bytes as numbers; a rest that is no whole number is left out.
pub(super) fn numbers(bytes: &[u8], kind: &str, big_endian: bool) -> Vec<f64> {
    fn all<const N: usize>(bytes: &[u8], big: bool, number: fn([u8; N]) -> f64) -> Vec<f64> {
        let (parts, _) = bytes.as_chunks::<N>();
        parts
            .iter()
            .map(|part| {
                let mut part = *part;
                if big {
                    part.reverse();
                }
                number(part)
            })
            .collect()
    }
    #[expect(
        clippy::cast_precision_loss,
        reason = "numbers of points are below 2^53"
    )]
    match kind {
        "Int8" => all::<1>(bytes, big_endian, |b| f64::from(i8::from_le_bytes(b))),
        "Int16" => all::<2>(bytes, big_endian, |b| f64::from(i16::from_le_bytes(b))),
        "UInt16" => all::<2>(bytes, big_endian, |b| f64::from(u16::from_le_bytes(b))),
        "Int32" => all::<4>(bytes, big_endian, |b| f64::from(i32::from_le_bytes(b))),
        "UInt32" => all::<4>(bytes, big_endian, |b| f64::from(u32::from_le_bytes(b))),
        "Int64" => all::<8>(bytes, big_endian, |b| i64::from_le_bytes(b) as f64),
        "UInt64" => all::<8>(bytes, big_endian, |b| u64::from_le_bytes(b) as f64),
        "Float32" => all::<4>(bytes, big_endian, |b| f64::from(f32::from_le_bytes(b))),
        "Float64" => all::<8>(bytes, big_endian, f64::from_le_bytes),
        _ => bytes.iter().map(|b| f64::from(*b)).collect(),
    }
}
