//! Scripts that hand the shares of a sweep to a batch scheduler: Slurm, whose options are its own.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use thiserror::Error;

/// Seconds before the time limit at which a share is told to stop.
const WARNED_S: u64 = 120;
/// Least time limit and least memory that are asked for.
const LEAST_S: f64 = 600.0;
const LEAST_MB: f64 = 128.0;
/// Factor on measured times and memory: other machines are slower, points dearer than those measured.
const SPARE: f64 = 2.0;

/// What the scripts are written for.
#[derive(Debug)]
pub struct ArrayScripts<'a> {
    /// The program.
    pub program: PathBuf,
    /// Folder of the array, an absolute path.
    pub folder: PathBuf,
    /// Name of the sweep.
    pub sweep: &'a str,
    /// Number of shares.
    pub of: usize,
    /// Threads of a share.
    pub threads: usize,
    /// Seconds that the longest share is expected to take on one thread.
    pub share_seconds: f64,
    /// Memory that a share is expected to take, in bytes.
    pub share_bytes: f64,
    /// How time and memory were found, in words.
    pub found_by: String,
    /// Account and partition, where they were given.
    pub account: Option<&'a str>,
    /// Partition.
    pub partition: Option<&'a str>,
}

/// Why no script can be written.
#[derive(Debug, Error)]
#[error("{what} {value:?} cannot stand in a script: {reason}; choose another one")]
pub struct ScriptFault {
    what: &'static str,
    value: String,
    reason: String,
}

/// The two lines that submit the shares of the array in `folder`, all or some of them, and the join behind
/// them, which waits until they have ended, well or not, and names those that are missing.
///
/// # Errors
///
/// [`ScriptFault`].
pub fn submit(folder: &Path, shares: Option<&str>) -> Result<String, ScriptFault> {
    let folder = shell_path(folder)?;
    let some = shares.map_or(String::new(), |shares| format!(" --array={shares}"));
    Ok(format!(
        "array=$(sbatch --parsable{some} {folder}/array.sh) &&\n\
         sbatch --dependency=afterany:$array {folder}/gather.sh\n"
    ))
}

/// A path as the shell takes it.
///
/// # Errors
///
/// [`ScriptFault`] where it holds what no line of a shell can.
pub fn shell_path(path: &Path) -> Result<String, ScriptFault> {
    quoted_path("the folder", path)
}

/// A value as the shell takes it.
fn quoted(what: &'static str, value: &str) -> Result<String, ScriptFault> {
    let fault = |reason: &str| ScriptFault {
        what,
        value: value.to_owned(),
        reason: reason.to_owned(),
    };
    if value.chars().any(char::is_control) {
        return Err(fault("it has a line end or another control character"));
    }
    let quoted = shlex::try_quote(value).map_err(|error| fault(&error.to_string()))?;
    Ok(quoted.into_owned())
}

fn quoted_path(what: &'static str, path: &Path) -> Result<String, ScriptFault> {
    match path.to_str() {
        Some(text) => quoted(what, text),
        None => Err(ScriptFault {
            what,
            value: path.display().to_string(),
            reason: "it is no text in UTF-8".to_owned(),
        }),
    }
}

impl ArrayScripts<'_> {
    /// The script of the shares, `array.sh`.
    ///
    /// # Errors
    ///
    /// [`ScriptFault`].
    pub fn array(&self) -> Result<String, ScriptFault> {
        let (program, folder) = self.places()?;
        let seconds = SPARE * self.share_seconds / self.threads as f64 + 2.0 * WARNED_S as f64;
        let mut text = self.head(
            ("shares", "computes them"),
            seconds.max(LEAST_S),
            "share-%a",
        )?;
        let _ = writeln!(text, "#SBATCH --array=1-{}", self.of);
        let _ = writeln!(text, "#SBATCH --cpus-per-task={}", self.threads);
        let megabytes = (SPARE * self.share_bytes / 1e6).max(LEAST_MB);
        let _ = writeln!(text, "#SBATCH --mem={megabytes:.0}M");
        let _ = writeln!(
            text,
            "# A share that nears the time limit is told so, stops after the trials in flight, and goes on in\n# its next run. One that is preempted or whose node fails is put back by the scheduler."
        );
        let _ = writeln!(
            text,
            "#SBATCH --signal=B:USR1@{WARNED_S}\n#SBATCH --requeue\n"
        );
        let _ = write!(
            text,
            r#"program={program}
folder={folder}

say() {{
    echo "$(date '+%F %T') job ${{SLURM_JOB_ID}}, share ${{SLURM_ARRAY_TASK_ID}}: $1"
}}
say begins

# The shell passes on what it is told, and waits until the share has stopped.
told= near_limit=
trap 'told=yes near_limit=yes; kill -USR1 "$share" 2>/dev/null' USR1
trap 'told=yes; kill -TERM "$share" 2>/dev/null' TERM
"$program" share "$folder" --threads "${{SLURM_CPUS_PER_TASK:-1}}" --quiet &
share=$!
while
    told=
    wait "$share"
    status=$?
    [ -n "$told" ]
do :; done

say "ends with status $status"
# 75: stopped, to go on later. Anything else that is not 0 needs a look at what stands above.
if [ "$status" -eq 75 ] && [ -n "$near_limit" ]; then
    scontrol requeue "${{SLURM_ARRAY_JOB_ID}}_${{SLURM_ARRAY_TASK_ID}}"
fi
exit "$status"
"#
        );
        Ok(text)
    }

    /// The script that joins the shares, `gather.sh`.
    ///
    /// # Errors
    ///
    /// [`ScriptFault`].
    pub fn gather(&self) -> Result<String, ScriptFault> {
        let (program, folder) = self.places()?;
        let mut text = self.head(("gather", "joins them"), LEAST_S, "gather")?;
        let _ = write!(
            text,
            "#SBATCH --mem=512M\n\nfolder={folder}\nexec {program} gather \"$folder\" --out \"$folder/result\" --overwrite\n"
        );
        Ok(text)
    }

    /// The two lines that submit both.
    ///
    /// # Errors
    ///
    /// [`ScriptFault`].
    pub fn submit(&self) -> Result<String, ScriptFault> {
        submit(&self.folder, None)
    }

    fn places(&self) -> Result<(String, String), ScriptFault> {
        let program = quoted_path("the program's path", &self.program)?;
        Ok((program, quoted_path("the folder", &self.folder)?))
    }

    fn head(
        &self,
        (kind, does): (&str, &str),
        seconds: f64,
        log: &str,
    ) -> Result<String, ScriptFault> {
        let name: String = self
            .sweep
            .chars()
            .map(|c| if c.is_ascii_alphanumeric() { c } else { '-' })
            .collect();
        let logs = self.folder.join("logs").display().to_string();
        // A % begins a pattern of the scheduler.
        let logs = quoted(
            "the folder",
            &format!("{}/{log}.txt", logs.replace('%', "%%")),
        )?;
        let mut text = format!(
            "#!/bin/bash\n# Written by bendwise {} for the sweep {}, cut into {} shares: {}.\n# {}\n# Change what your cluster wants otherwise.\n",
            env!("CARGO_PKG_VERSION"),
            self.sweep,
            self.of,
            does,
            self.found_by
        );
        let _ = writeln!(text, "#SBATCH --job-name={name}-{kind}");
        let _ = writeln!(text, "#SBATCH --time={}", duration(seconds));
        let _ = writeln!(text, "#SBATCH --output={logs}\n#SBATCH --open-mode=append");
        for (option, value) in [("account", self.account), ("partition", self.partition)] {
            if let Some(value) = value {
                let _ = writeln!(text, "#SBATCH --{option}={}", quoted(option, value)?);
            }
        }
        Ok(text)
    }
}

/// Days, hours, minutes and seconds, as the scheduler reads them, rounded up to minutes.
fn duration(seconds: f64) -> String {
    let minutes = (seconds / 60.0).ceil().max(1.0);
    let (days, minutes) = ((minutes / 1440.0).floor(), minutes % 1440.0);
    format!(
        "{days}-{:02}:{:02}:00",
        (minutes / 60.0).floor(),
        minutes % 60.0
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn scripts(folder: &str) -> ArrayScripts<'_> {
        ArrayScripts {
            program: "/opt/a b/bendwise".into(),
            folder: folder.into(),
            sweep: "bend shape",
            of: 64,
            threads: 4,
            share_seconds: 86_400.0,
            share_bytes: 3e8,
            found_by: "measured".to_owned(),
            account: None,
            partition: Some("main"),
        }
    }

    #[test]
    fn time_and_memory_are_those_measured_with_room() {
        let text = scripts("/data/x").array().unwrap();
        // A day on one thread is six hours on four; twice that, and twice the warning of two minutes.
        assert!(text.contains("#SBATCH --time=0-12:04:00\n"), "{text}");
        assert!(text.contains("#SBATCH --mem=600M\n") && text.contains("--array=1-64\n"));
        assert!(text.contains("--partition=main\n") && !text.contains("--account"));
    }

    #[test]
    fn names_with_blanks_and_signs_are_quoted() {
        let text = scripts("/data/100% it's").array().unwrap();
        assert!(text.contains("program='/opt/a b/bendwise'\n"), "{text}");
        assert!(text.contains("/data/100%% it"), "{text}");
        assert!(scripts("/data/\nrm").array().is_err());
    }
}
