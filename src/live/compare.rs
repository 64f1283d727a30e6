//! How the techniques of the study do on the draw that a person has worked.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;

use serde_json::json;
use tokio::sync::mpsc::UnboundedSender;

use super::engine::Worked;
use crate::trial::{run_trial, strategies};

/// Runs every strategy of the scenario on the draw, on a thread of its own; each row is sent as it is
/// finished. It ends early where nobody listens any more, and `runs` is raised meanwhile.
///
/// # Errors
/// Where the system gives no thread, or `runs` is raised already.
pub(super) fn compare(
    worked: &Worked,
    rows: UnboundedSender<String>,
    runs: &Arc<AtomicBool>,
) -> std::io::Result<()> {
    if runs.swap(true, Ordering::SeqCst) {
        return Err(std::io::Error::other(
            "the techniques are being run already",
        ));
    }
    let (worked, lowered) = (worked.clone(), Lowered(Arc::clone(runs)));
    thread::Builder::new()
        .name("compare".to_owned())
        .spawn(move || {
            let _lowered = lowered;
            let strategies = strategies(worked.prepared.scenario());
            let of = strategies.len();
            let techniques = &worked.prepared.scenario().techniques;
            for (done, strategy) in strategies.iter().enumerate() {
                let now = json!({ "comparing": { "done": done, "of": of, "name": strategy.name } });
                if rows.send(now.to_string()).is_err() {
                    return;
                }
                let row = run_trial(&worked.prepared, strategy, worked.trial, false).row;
                let by_hand = techniques[strategy.technique].plan.is_by_hand();
                let told = json!({ "row": row, "by_hand": by_hand });
                if rows.send(told.to_string()).is_err() {
                    return;
                }
            }
            let _ = rows.send(json!({ "compared": strategies.len() }).to_string());
        })?;
    Ok(())
}

/// Lowers a flag when it goes.
struct Lowered(Arc<AtomicBool>);

impl Drop for Lowered {
    fn drop(&mut self) {
        self.0.store(false, Ordering::SeqCst);
    }
}
