//! What a number outside its range may have meant, most often another unit.

use crate::units;

/// What `value` may have meant, by the name that a field gives as `x-suspect`.
#[must_use]
pub fn suspicion(name: &str, value: f64) -> Option<String> {
    match name {
        "percent" => percent(value),
        "strain" => strain(value),
        "friction" => friction(value),
        "relative error" => relative_error(value),
        "wire in mm" => wire_in_mm(value),
        "wire in inches" => wire_in_inches(value),
        "core" => core(value),
        "tip load" => tip_load(value),
        "modulus" => modulus(value),
        "catheter" => catheter(value),
        "polar radius" => polar_radius(value),
        "distance" => distance(value),
        "side angle" => side_angle(value),
        _ => None,
    }
}

fn percent(value: f64) -> Option<String> {
    (value > 1.0 && value <= 100.0).then(|| {
        format!(
            "a coefficient of variation is a ratio: {value} percent is {}",
            value / 100.0
        )
    })
}

fn strain(value: f64) -> Option<String> {
    (value > 0.2 && value <= 20.0)
        .then(|| format!("strain is a ratio: {value} percent is {}", value / 100.0))
}

fn friction(value: f64) -> Option<String> {
    (value > 2.0 && value <= 100.0).then(|| {
        format!(
            "a friction coefficient is a ratio of forces; if {value} is meant in percent write {}",
            value / 100.0
        )
    })
}

fn relative_error(value: f64) -> Option<String> {
    (value > 0.5 && value <= 50.0)
        .then(|| format!("it is a ratio: {value} percent is {}", value / 100.0))
}

fn wire_in_mm(value: f64) -> Option<String> {
    if (5.0..=40.0).contains(&value) {
        let mm = units::inch_to_mm(value * 1e-3);
        Some(format!(
            "{value} looks like thousandths of an inch: {:.3} inch is {mm:.4} mm",
            value * 1e-3
        ))
    } else if (0.004..=0.04).contains(&value) {
        let mm = units::inch_to_mm(value);
        Some(format!(
            "{value} looks like inches: write diameter_in = {value}, or diameter_mm = {mm:.4}"
        ))
    } else {
        None
    }
}

fn wire_in_inches(value: f64) -> Option<String> {
    if (0.1..=1.0).contains(&value) {
        Some(format!(
            "{value} looks like mm: write diameter_mm = {value}; 0.014 inch is 0.3556 mm"
        ))
    } else if (4.0..=40.0).contains(&value) {
        Some(format!(
            "{value} looks like thousandths of an inch: write {:.3}",
            value * 1e-3
        ))
    } else {
        None
    }
}

fn core(value: f64) -> Option<String> {
    (0.000_4..0.01).contains(&value).then(|| {
        let mm = units::inch_to_mm(value);
        format!("{value} looks like inches: {value} inch is {mm:.4} mm")
    })
}

fn tip_load(value: f64) -> Option<String> {
    (value > 50.0).then(|| {
        let gf = units::mn_to_gram_force(value);
        format!(
            "looks like mN? tip loads are in gram-force (1 gf = 9.80665 mN): {value} mN is {gf:.2} gf"
        )
    })
}

fn modulus(value: f64) -> Option<String> {
    (value > 1000.0).then(|| {
        format!(
            "{value} looks like MPa (N/mm²): {value} MPa is {} GPa; steel is about 200 GPa",
            value / 1000.0
        )
    })
}

fn catheter(value: f64) -> Option<String> {
    (value > 4.0 && value <= 12.0).then(|| {
        format!(
            "{value} looks like French: {value} French is {:.3} mm",
            units::french_to_mm(value)
        )
    })
}

fn polar_radius(value: f64) -> Option<String> {
    (value > 30.0).then(|| format!("polar tables are in cm: {value} mm is {} cm", value / 10.0))
}

fn distance(value: f64) -> Option<String> {
    (value > 0.0 && value < 10.0)
        .then(|| format!("{value} looks like m: write {} mm", 1000.0 * value))
}

fn side_angle(value: f64) -> Option<String> {
    (value > 0.0 && value < 1.0).then(|| {
        format!(
            "looks like rad? {value} rad is {:.1} deg",
            value.to_degrees()
        )
    })
}

#[cfg(test)]
mod tests {
    use super::suspicion;

    #[test]
    fn fourteen_thousandths_are_recognised_in_either_unit() {
        let said = |name, value| suspicion(name, value).unwrap();
        assert!(said("wire in mm", 14.0).contains("0.014 inch is 0.3556 mm"));
        assert!(said("wire in mm", 0.014).contains("diameter_in = 0.014"));
        assert!(said("wire in inches", 0.3556).contains("diameter_mm = 0.3556"));
    }

    #[test]
    fn three_hundred_mn_of_tip_load_are_thirty_gram_force() {
        let said = suspicion("tip load", 300.0).unwrap();
        assert!(said.contains("30.59 gf"));
    }
}
