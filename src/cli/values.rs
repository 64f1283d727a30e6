//! Values of options: texts into what they mean, or a message with what is allowed.

use std::fmt::Display;
use std::str::FromStr;

use crate::anatomy::{Frame, Unit};
use crate::assay::Test;
use crate::evidence::{CATALOGUE, Uncertain, find};
use crate::scenario::Document;
use crate::study::Shard;

/// A document by its name.
pub(super) fn document(text: &str) -> Result<Document, String> {
    let found = Document::ALL.into_iter().find(|d| d.name() == text);
    found.ok_or_else(|| {
        let names = Document::ALL.map(Document::name).join(", ");
        format!("allowed are {names}")
    })
}

/// The name of a check.
pub(super) fn check(text: &str) -> Result<String, String> {
    match find(text) {
        Some(check) => Ok(check.name.to_owned()),
        None => {
            let names: Vec<&str> = CATALOGUE.iter().map(|check| check.name).collect();
            Err(format!("allowed are {}", names.join(", ")))
        }
    }
}

/// Rows of drawn inputs.
pub(super) fn rows(text: &str) -> Result<usize, String> {
    /// Most rows: those of which the low-discrepancy sequence is known.
    const MOST: usize = 65_536;
    let rows = text.parse().ok().filter(|rows| *rows <= MOST);
    rows.ok_or_else(|| format!("allowed is a whole number from 0 to {MOST}"))
}

pub(super) fn per_cent(text: &str) -> Result<f64, String> {
    match text.parse() {
        Ok(per_cent) if (0.01..=100.0).contains(&per_cent) => Ok(per_cent),
        _ => Err("allowed is a number from 0.01 to 100".into()),
    }
}

/// The spread of an uncertain input.
pub(super) fn spread(text: &str) -> Result<(Uncertain, f64, f64), String> {
    let names: Vec<&str> = Uncertain::ALL.into_iter().map(Uncertain::name).collect();
    let form = || {
        format!(
            "allowed is NAME=LOW:HIGH, such as friction=0.8:1.25, with NAME one of {}",
            names.join(", ")
        )
    };
    let (name, ends) = text.split_once('=').ok_or_else(form)?;
    let input = Uncertain::ALL
        .into_iter()
        .find(|input| input.name() == name);
    let input = input.ok_or_else(form)?;
    let (low, high) = ends.split_once(':').ok_or_else(form)?;
    let number = |text: &str| text.trim().parse::<f64>().map_err(|_| form());
    let (low, high) = (number(low)?, number(high)?);
    let (least, most) = input.allowed();
    if low < high && low >= least && high <= most {
        Ok((input, low, high))
    } else {
        let unit = input.unit();
        Err(format!(
            "LOW has to be below HIGH, both from {least} to {most} {unit}"
        ))
    }
}

pub(super) fn unit(text: &str) -> Result<Unit, String> {
    match text {
        "mm" => Ok(Unit::Millimetre),
        "cm" => Ok(Unit::Centimetre),
        "m" => Ok(Unit::Metre),
        _ => Err("allowed are mm, cm, m".into()),
    }
}

pub(super) fn frame(text: &str) -> Result<Frame, String> {
    match text {
        "left-posterior-superior" | "LPS" => Ok(Frame::LeftPosteriorSuperior),
        "right-anterior-superior" | "RAS" => Ok(Frame::RightAnteriorSuperior),
        "scene" => Ok(Frame::Scene),
        _ => Err("allowed are left-posterior-superior, right-anterior-superior, scene".into()),
    }
}

pub(super) fn tolerance(text: &str) -> Result<f64, String> {
    match text.parse() {
        Ok(mm) if (0.001..=1.0).contains(&mm) => Ok(mm),
        _ => Err("allowed is a number from 0.001 to 1, in mm".into()),
    }
}

pub(super) fn shard(text: &str) -> Result<Shard, String> {
    let allowed =
        "allowed is K/N with whole numbers, K from 1 to N and N up to 100000, such as 2/8";
    let parts = text.split_once('/');
    let parts = parts.and_then(|(number, of)| Some((number, of.parse().ok()?)));
    let (number, of) = parts.ok_or(allowed)?;
    let number = match number {
        "array" => task_number()?,
        number => number.parse().map_err(|_| allowed)?,
    };
    if (1..=Shard::MOST).contains(&of) && (1..=of).contains(&number) {
        Ok(Shard { number, of })
    } else {
        Err(allowed.to_owned())
    }
}

/// Variables in which batch schedulers say the number of a task in its array: Slurm, PBS, Grid Engine, LSF.
const TASK_NUMBERS: [&str; 4] = [
    "SLURM_ARRAY_TASK_ID",
    "PBS_ARRAY_INDEX",
    "SGE_TASK_ID",
    "LSB_JOBINDEX",
];

/// The number of this task in an array of a batch scheduler.
pub(super) fn task_number() -> Result<usize, String> {
    let mut said = TASK_NUMBERS
        .iter()
        .filter_map(|name| std::env::var(name).ok());
    said.find_map(|value| value.parse().ok()).ok_or_else(|| {
        format!(
            "no number of a share is given, and no batch scheduler says one ({})",
            TASK_NUMBERS.join(", ")
        )
    })
}

/// A number of shares.
pub(super) fn shares(text: &str) -> Result<u32, String> {
    let most = u32::try_from(Shard::MOST).unwrap_or(u32::MAX);
    whole(text, 1, most)
}

pub(super) fn width(text: &str) -> Result<f64, String> {
    let width = text.parse().ok();
    width
        .filter(|width| (0.005..=1.0).contains(width))
        .ok_or_else(|| "allowed is a number from 0.005 to 1".to_owned())
}

pub(super) fn bench_test(text: &str) -> Result<Test, String> {
    let known = Test::ALL.into_iter();
    known
        .clone()
        .find(|test| test.slug() == text)
        .ok_or_else(|| {
            let names: Vec<_> = known.map(Test::slug).collect();
            format!("allowed are {}", names.join(", "))
        })
}

pub(super) fn trials(text: &str) -> Result<u32, String> {
    whole(text, 1, 1_000_000)
}

pub(super) fn seed(text: &str) -> Result<u64, String> {
    whole(text, 0, u64::MAX)
}

pub(super) fn threads(text: &str) -> Result<usize, String> {
    whole(text, 1, 1024)
}

pub(super) fn at_most(text: &str) -> Result<usize, String> {
    whole(text, 1, usize::MAX)
}

/// A whole number from `least` to `most`.
fn whole<N>(text: &str, least: N, most: N) -> Result<N, String>
where
    N: Copy + FromStr + PartialOrd + Display,
{
    let number = text.parse().ok();
    number
        .filter(|number| (least..=most).contains(number))
        .ok_or_else(|| format!("allowed is a whole number from {least} to {most}"))
}
