//! Missing numbers in files: JSON has no word for a number that is not finite, so it is written as
//! null and read back as not-a-number.

use serde::de::value::MapDeserializer;
use serde::de::{DeserializeOwned, IntoDeserializer, Visitor};
use serde::{Deserialize, Deserializer, Serialize, forward_to_deserialize_any};
use serde_json::{Error, Map, Value};

/// A value of which null is a missing number.
struct Gap(Value);

impl<'de> Deserializer<'de> for Gap {
    type Error = Error;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        match self.0 {
            Value::Null => visitor.visit_f64(f64::NAN),
            other => other.deserialize_any(visitor),
        }
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        name: &'static str,
        variants: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Error> {
        self.0.deserialize_enum(name, variants, visitor)
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        self.0.deserialize_option(visitor)
    }

    forward_to_deserialize_any! {
        bool i8 i16 i32 i64 i128 u8 u16 u32 u64 u128 f32 f64 char str string bytes byte_buf unit
        unit_struct newtype_struct seq tuple tuple_struct map struct identifier ignored_any
    }
}

impl IntoDeserializer<'_, Error> for Gap {
    type Deserializer = Self;

    fn into_deserializer(self) -> Self {
        self
    }
}

/// Reads a row of named values in which null is a missing number; for `#[serde(deserialize_with)]`.
///
/// # Errors
///
/// Where the value is no such row.
pub fn row<'de, D: Deserializer<'de>, T: DeserializeOwned>(deserializer: D) -> Result<T, D::Error> {
    let map = Map::deserialize(deserializer)?;
    let fields = map.into_iter().map(|(name, value)| (name, Gap(value)));
    T::deserialize(MapDeserializer::new(fields)).map_err(serde::de::Error::custom)
}

/// Reads a number that may be missing; for `#[serde(deserialize_with)]`.
///
/// # Errors
///
/// Where the value is neither a number nor null.
pub fn number<'de, D: Deserializer<'de>>(deserializer: D) -> Result<f64, D::Error> {
    Ok(Option::<f64>::deserialize(deserializer)?.unwrap_or(f64::NAN))
}

/// A field of a row in a table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Field {
    /// Name of the column.
    pub name: String,
    /// The value; "NaN", "inf" or "-inf" where it is missing.
    pub text: String,
    /// Whether it is a number that is not finite.
    pub is_missing: bool,
}

/// The fields of a row in their order.
///
/// # Errors
///
/// Where the row does not fit into a table.
pub fn fields(row: &impl Serialize) -> csv::Result<Vec<Field>> {
    let mut table = csv::Writer::from_writer(Vec::new());
    table.serialize(row)?;
    let bytes = (table.into_inner()).map_err(csv::IntoInnerError::into_error)?;
    let mut reader = csv::Reader::from_reader(bytes.as_slice());
    let names = reader.headers()?.clone();
    let mut texts = csv::StringRecord::new();
    reader.read_record(&mut texts)?;
    let gaps = gaps(row);
    let fields = names.iter().zip(&texts).map(|(name, text)| Field {
        name: name.to_owned(),
        text: text.to_owned(),
        is_missing: gaps.iter().any(|gap| gap == name),
    });
    Ok(fields.collect())
}

/// Names of the numbers of a row that are not finite, in the order of the row's fields.
pub fn gaps(row: &impl Serialize) -> Vec<String> {
    match serde_json::to_value(row) {
        Ok(Value::Object(fields)) => {
            let missing = fields.into_iter().filter(|(_, value)| value.is_null());
            missing.map(|(name, _)| name).collect()
        }
        _ => Vec::new(),
    }
}
