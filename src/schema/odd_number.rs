//! Numbers as people write them elsewhere: with a decimal comma, or with their unit.

use crate::units;

/// What to do about the text of `field`, if it begins as a number and goes on with a decimal comma
/// or a unit; blanks before it do not count.
#[must_use]
pub fn remedy(field: &str, text: &str) -> Option<String> {
    let text = text.trim_start();
    let digits = |from: usize| {
        let rest = text.as_bytes().get(from..).unwrap_or(&[]);
        rest.iter().take_while(|b| b.is_ascii_digit()).count()
    };
    let sign = usize::from(text.starts_with(['-', '+']));
    let whole = digits(sign);
    if whole == 0 {
        return None;
    }
    let mut end = sign + whole;
    let has_comma = text[end..].starts_with(',');
    if has_comma || text[end..].starts_with('.') {
        match digits(end + 1) {
            0 if has_comma => return None,
            decimals => end += 1 + decimals,
        }
    }
    let behind = text[end..].trim_start();
    let is_unit = |c: char| c.is_alphabetic() || "%°\"'".contains(c);
    let has_unit = behind.starts_with(is_unit);
    let number = text[..end].replace(',', ".");
    match (has_comma, has_unit) {
        (false, false) => None,
        (true, false) => Some(format!(
            "the decimal sign is a point, not a comma: write {number}"
        )),
        (_, true) => {
            let sign = if has_comma {
                ", with a point as its decimal sign"
            } else {
                ""
            };
            let unit = match units::of_field(field).1 {
                "" | "CV" => "it has none".to_owned(),
                unit => format!("its name says that it is in {unit}"),
            };
            Some(format!(
                "write a number alone, without quotes and without a unit{sign}: the unit of {field} \
                 is not written, {unit}"
            ))
        }
    }
}

/// The same for the line of a text in which no value could be read at `at`, in bytes.
#[must_use]
pub fn remedy_at(text: &str, at: usize) -> Option<String> {
    let before = text.get(..at)?;
    let begin = before.rfind('\n').map_or(0, |newline| newline + 1);
    // A fault is found behind the sign after the key, or at a comma behind its value.
    let equals = begin + text.get(begin..at)?.rfind('=')?;
    let key = text[begin..equals].trim_end();
    let key = key.rsplit(['{', ',', ' ', '\t']).next()?;
    let value = text[equals + 1..].lines().next()?;
    remedy(key, value)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_decimal_comma_is_shown_as_a_point() {
        let said = remedy("diameter_mm", "3,5").expect("a remedy");
        assert!(said.ends_with("not a comma: write 3.5"), "{said}");
        assert!(
            remedy("bend_mm", "-0,25 # soft")
                .expect("a remedy")
                .ends_with("write -0.25")
        );
    }

    #[test]
    fn a_unit_is_told_to_stand_in_the_name() {
        for text in ["110 deg", "110°", "1.5rad", "3,5 mm"] {
            let said = remedy("take_off_deg", text).expect(text);
            assert!(said.contains("its name says that it is in deg"), "{said}");
            assert_eq!(said.contains("point"), text.contains(','), "{said}");
        }
        assert!(
            remedy("friction", "3 %")
                .expect("a remedy")
                .contains("it has none")
        );
    }

    #[test]
    fn other_texts_are_left_to_the_general_remedy() {
        for text in ["", "soft", "3.5", "3, 5", "mm 3", "- 3", "[3,5]"] {
            assert_eq!(remedy("diameter_mm", text), None, "{text}");
        }
    }

    #[test]
    fn the_value_is_found_in_its_line() {
        let text = "a = 1\ndiameter_mm = 3,5\nb = 2\n";
        let comma = text.find(',').expect("a comma");
        assert!(
            remedy_at(text, comma)
                .expect("a remedy")
                .ends_with("write 3.5")
        );
        let inline = "p = { shape = \"arc\", radius_mm = 3,5 }";
        let at = inline.find(" }").expect("an end");
        assert!(
            remedy_at(inline, at)
                .expect("a remedy")
                .ends_with("write 3.5")
        );
        assert_eq!(remedy_at(text, 2), None);
        assert_eq!(remedy_at("", 0), None);
    }
}
