//! How the techniques of the study do on the draw that a person has worked.

use std::thread;

use serde_json::json;
use tokio::sync::mpsc::UnboundedSender;

use super::engine::Worked;
use crate::trial::{run_trial, strategies};

/// Runs every strategy of the scenario on the draw, on a thread of its own; each row is sent as it is
/// finished. It ends early where nobody listens any more.
///
/// # Errors
/// Where the system gives no thread.
pub(super) fn compare(worked: &Worked, rows: UnboundedSender<String>) -> std::io::Result<()> {
    let worked = worked.clone();
    thread::Builder::new()
        .name("compare".to_owned())
        .spawn(move || {
            let strategies = strategies(worked.prepared.scenario());
            for strategy in &strategies {
                let row = run_trial(&worked.prepared, strategy, worked.trial, false).row;
                if rows.send(json!({ "row": row }).to_string()).is_err() {
                    return;
                }
            }
            let _ = rows.send(json!({ "compared": strategies.len() }).to_string());
        })?;
    Ok(())
}
