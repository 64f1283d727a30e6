//! A further output is a sink and nothing else: here the recorded steps of all trials, added up.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use bendwise::study::store::write_file;
use bendwise::study::{KeepError, Making, Sink, Trial};

use crate::report_folder::invented::{RECORDED, TRIALS, make_with, setup};

/// Writes how many trials there were, and how many steps and shapes of each recorded one.
#[derive(Default)]
struct Steps {
    trials: usize,
    recorded: BTreeMap<(usize, u32), (usize, usize)>,
}

impl Sink for Steps {
    fn trial(&mut self, trial: Trial<'_>) -> Result<(), KeepError> {
        let record = trial.record;
        self.trials += 1;
        if !record.trace.is_empty() {
            let counts = (record.trace.len(), record.shapes.len());
            self.recorded
                .insert((trial.strategy, record.row.trial), counts);
        }
        Ok(())
    }

    fn finish(&mut self, folder: &Path) -> Result<Vec<Making>, KeepError> {
        let text = format!("{} {:?}", self.trials, self.recorded);
        write_file(&folder.join("steps.txt"), text)?;
        let later: Making = Box::new(|| Ok(vec![("later.txt".to_owned(), b"made".to_vec())]));
        Ok(vec![later])
    }
}

#[test]
fn a_sink_sees_every_trial_once_whether_computed_now_or_by_an_earlier_run() {
    let place = tempfile::tempdir().unwrap();
    let read = |name: &str, parts: &[Option<usize>]| {
        let out = place.path().join(name);
        for limit in parts {
            make_with(&out, 2, *limit, vec![Box::new(Steps::default())]);
        }
        assert_eq!(fs::read(out.join("later.txt")).unwrap(), b"made");
        fs::read_to_string(out.join("steps.txt")).unwrap()
    };
    let whole = read("whole", &[None]);
    assert_eq!(read("halves", &[Some(90), None]), whole);
    let strategies = setup().strategies.len();
    let all = strategies * TRIALS as usize;
    assert!(whole.starts_with(&format!("{all} ")), "{whole}");
    let recorded = strategies * RECORDED as usize;
    assert_eq!(whole.matches("): (").count(), recorded, "{whole}");
}
