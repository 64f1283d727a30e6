//! Shares on a real batch scheduler: Slurm, started for this test on one machine.
//!
//! Needs root, `munged`, `slurmctld` and `slurmd`, and a host name that resolves to loopback (else the
//! controller looks for another machine and never comes up).

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::thread::sleep;
use std::time::{Duration, Instant};

use tempfile::TempDir;

use super::{array, assert_same, bendwise, folder, is_there, status, whole};
use crate::skipped::skipped;

/// Longest wait for anything, with room for a machine that is busy with other tests.
const PATIENCE: Duration = Duration::from_secs(240);

/// Loopback alone, no accounts, no control groups, more processors than there may be. Jobs that are put back
/// start again after the lifetime of a credential and one second; a lifetime of less than 5 s is not taken,
/// and 120 in its place.
const CONF: &str = "\
ClusterName=test
SlurmctldHost=localhost
SlurmUser=root
SlurmdUser=root
AuthType=auth/munge
AuthInfo=socket=@DIR@/munge.socket,cred_expire=5
SlurmctldPort=26817
SlurmdPort=26818
CommunicationParameters=NoInAddrAny,NoCtldInAddrAny
StateSaveLocation=@DIR@/state
SlurmdSpoolDir=@DIR@/spool
SlurmctldPidFile=@DIR@/slurmctld.pid
SlurmdPidFile=@DIR@/slurmd.pid
SlurmctldLogFile=@DIR@/slurmctld.log
SlurmdLogFile=@DIR@/slurmd.log
MailProg=/bin/true
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
SwitchType=switch/none
MpiDefault=none
SelectType=select/cons_tres
SelectTypeParameters=CR_Core_Memory
AccountingStorageType=accounting_storage/none
JobAcctGatherType=jobacct_gather/none
ReturnToService=2
KillWait=10
MinJobAge=600
SlurmdParameters=config_overrides
SchedulerType=sched/backfill
SchedulerParameters=batch_sched_delay=0,sched_interval=2,bf_interval=2,sched_min_interval=0
PreemptType=preempt/partition_prio
PreemptMode=REQUEUE
NodeName=localhost NodeAddr=127.0.0.1 CPUs=8 RealMemory=2000 State=UNKNOWN
PartitionName=main Nodes=localhost Default=YES PriorityTier=1 DefMemPerCPU=200 MaxTime=INFINITE State=UP
PartitionName=urgent Nodes=localhost PriorityTier=10 DefMemPerCPU=200 MaxTime=INFINITE State=UP
";

/// A scheduler that runs as long as this lives.
struct Scheduler {
    place: TempDir,
}

impl Scheduler {
    /// Starts one, or says why not.
    fn start() -> Result<Self, String> {
        for program in ["munged", "slurmctld", "slurmd", "sbatch"] {
            let found = said("which", &[program]);
            found.map_err(|_| format!("{program} is not installed"))?;
        }
        if said("id", &["-u"]).as_deref() != Ok("0\n") {
            return Err("only root can start a scheduler".to_owned());
        }
        let host = said("hostname", &[])?;
        let address = said("getent", &["hosts", host.trim()]).unwrap_or_default();
        if !address.starts_with("127.") {
            return Err(format!("the host name {} is not loopback", host.trim()));
        }
        // Not where TMPDIR leads: others must be able to enter the folders above the socket.
        let place = tempfile::tempdir_in("/tmp").map_err(|error| error.to_string())?;
        let scheduler = Self { place };
        let dir = scheduler.dir();
        for folder in ["state", "spool"] {
            fs::create_dir(dir.join(folder)).unwrap();
        }
        // Keys must not be readable by others; sockets lie in a folder that others may enter.
        said("chmod", &["755", &dir.display().to_string()])?;
        let key = dir.join("munge.key");
        fs::write(&key, [0x5a_u8; 1024]).unwrap();
        said("chmod", &["600", &key.display().to_string()])?;
        let conf = CONF.replace("@DIR@", &dir.display().to_string());
        fs::write(scheduler.conf(), conf).unwrap();
        let at = |option: &str, file: &str| format!("--{option}={}", dir.join(file).display());
        scheduler.run(
            "munged",
            &[
                "--origin=127.0.0.1",
                &at("key-file", "munge.key"),
                &at("socket", "munge.socket"),
                &at("pid-file", "munged.pid"),
                &at("log-file", "munged.log"),
                &at("seed-file", "munged.seed"),
            ],
        );
        scheduler.run("slurmctld", &[]);
        scheduler.run("slurmd", &[]);
        scheduler.wait("an idle node", || {
            scheduler
                .run("sinfo", &["-h", "-t", "idle", "-o", "%n"])
                .contains("localhost")
        });
        Ok(scheduler)
    }

    fn dir(&self) -> &Path {
        self.place.path()
    }

    fn conf(&self) -> PathBuf {
        self.dir().join("slurm.conf")
    }

    /// Runs a command of the scheduler; returns what it says.
    fn run(&self, program: &str, words: &[&str]) -> String {
        let said = Command::new(program)
            .args(words)
            .env("SLURM_CONF", self.conf())
            .output()
            .unwrap();
        let (out, err) = (
            said.stdout,
            String::from_utf8_lossy(&said.stderr).into_owned(),
        );
        assert!(said.status.success(), "{program} {words:?}: {err}");
        String::from_utf8(out).unwrap()
    }

    /// Submits a script; returns the number of the job.
    fn submit(&self, words: &[&str]) -> String {
        let words = [&["--parsable"], words].concat();
        self.run("sbatch", &words).trim().to_owned()
    }

    /// Waits until something holds.
    fn wait(&self, what: &str, mut holds: impl FnMut() -> bool) {
        let begun = Instant::now();
        while !holds() {
            let log = fs::read_to_string(self.dir().join("slurmctld.log")).unwrap_or_default();
            let end = &log[log.len().saturating_sub(3000)..];
            assert!(begun.elapsed() < PATIENCE, "no {what}:\n{end}");
            sleep(Duration::from_millis(200));
        }
    }

    /// Waits until nothing is queued or running.
    fn wait_for_all(&self) {
        self.wait("end of all jobs", || self.run("squeue", &["-h"]).is_empty());
    }

    /// Sends a signal to the process that computes a share, once there is one that takes it: one that is seen
    /// may be gone before it is reached.
    fn signal(&self, signal: &str, folder: &TempDir, share: usize) {
        self.wait(&format!("process of share {share}"), || {
            let process = process_of(folder, share);
            process.is_some_and(|process| said("kill", &[signal, &process]).is_ok())
        });
    }

    /// Waits until a share has kept a trial and is still at work.
    fn wait_for_trials(&self, folder: &TempDir, share: usize) {
        let rows = format!("array/shares/{share}.partial/rows/00000000.jsonl");
        let rows = folder.path().join(rows);
        self.wait(&format!("trial of share {share}"), || {
            fs::read(&rows).is_ok_and(|bytes| !bytes.is_empty())
        });
    }
}

impl Drop for Scheduler {
    fn drop(&mut self) {
        for daemon in ["slurmd", "slurmctld", "munged"] {
            if let Ok(pid) = fs::read_to_string(self.dir().join(format!("{daemon}.pid"))) {
                let _ = Command::new("kill").arg(pid.trim()).status();
                let begun = Instant::now();
                let runs = || Path::new("/proc").join(pid.trim()).exists();
                while runs() && begun.elapsed() < Duration::from_secs(10) {
                    sleep(Duration::from_millis(50));
                }
            }
        }
    }
}

/// What a program says on standard output, if it ends well.
fn said(program: &str, words: &[&str]) -> Result<String, String> {
    let said = Command::new(program).args(words).output();
    let said = said.map_err(|error| error.to_string())?;
    match said.status.success() {
        true => String::from_utf8(said.stdout).map_err(|error| error.to_string()),
        false => Err(format!("{program}: {}", said.status)),
    }
}

/// The process that computes a share of the array in a folder.
fn process_of(folder: &TempDir, share: usize) -> Option<String> {
    let place = folder.path().canonicalize().unwrap();
    let pattern = format!("bendwise share {}/array ", place.display());
    let pids = said("pgrep", &["-f", &pattern]).ok()?;
    pids.lines()
        .find(|pid| {
            let environment = fs::read(format!("/proc/{pid}/environ")).unwrap_or_default();
            let wanted = format!("SLURM_ARRAY_TASK_ID={share}");
            environment
                .split(|&byte| byte == 0)
                .any(|v| v == wanted.as_bytes())
        })
        .map(str::to_owned)
}

/// An array with a job that joins it; shares that are killed, put back, warned of their time limit or cut by
/// it, preempted or submitted twice; one that fails because its scenario is gone.
#[test]
fn shares_on_a_scheduler_survive_what_happens_there() {
    let scheduler = match Scheduler::start() {
        Ok(scheduler) => scheduler,
        Err(why) => return skipped(&why),
    };
    let folder = folder(150);
    whole(&folder);
    array(&folder, 6);
    let at = |name: &str| folder.path().join("array").join(name).display().to_string();
    let (shares, gather) = (at("array.sh"), at("gather.sh"));

    // The scenario is away while a share begins: a clear log, and the others stay.
    let scenario = folder.path().join("short.toml");
    let hidden = folder.path().join("hidden.toml");
    fs::rename(&scenario, &hidden).unwrap();
    scheduler.submit(&["--array=6", &shares]);
    scheduler.wait_for_all();
    fs::rename(&hidden, &scenario).unwrap();
    let log = fs::read_to_string(at("logs/share-6.txt")).unwrap();
    assert!(log.contains("short.toml"), "{log}");
    assert!(status(&folder).contains("missing       6  1-6"));

    // Killed without warning: failed, and what it kept stays.
    scheduler.submit(&["--array=1", &shares]);
    scheduler.wait_for_trials(&folder, 1);
    scheduler.signal("-9", &folder, 1);
    scheduler.wait_for_all();
    assert!(!is_there(folder.path(), 1));
    assert!(status(&folder).contains("begun         1  1"));

    // Warned of its time limit: it stops, is put back, and is warned no more.
    let warned = scheduler.submit(&["--array=2", "--signal=USR2@10", &shares]);
    scheduler.wait_for_trials(&folder, 2);
    let task = format!("{warned}_2");
    scheduler.run("scancel", &["--batch", "--signal=USR1", &task]);

    // Put back by hand, and by a job of a partition that comes first.
    let back = scheduler.submit(&["--array=3", &shares]);
    scheduler.wait_for_trials(&folder, 3);
    scheduler.run("scontrol", &["requeue", &format!("{back}_3")]);
    scheduler.submit(&["--array=4", &shares]);
    scheduler.wait_for_trials(&folder, 4);
    let wrapped = [
        "--partition=urgent",
        "--exclusive",
        "--output=/dev/null",
        "--wrap=true",
    ];
    let urgent = scheduler.submit(&wrapped);
    scheduler.wait("end of what comes first", || {
        scheduler.run("squeue", &["-h", "-j", &urgent]).is_empty()
    });

    // Cut by its time limit, the shortest there is; it is held up, and its warning is a signal that nobody
    // heeds.
    let cut = scheduler.submit(&["--array=6", "--time=1", "--signal=28@1", &shares]);
    scheduler.wait_for_trials(&folder, 6);
    scheduler.signal("-STOP", &folder, 6);

    // Twice at the same time.
    scheduler.submit(&["--array=5", &shares]);
    scheduler.submit(&["--array=5", &shares]);
    scheduler.wait_for_all();
    let ended = scheduler.run("scontrol", &["show", "job", &cut]);
    assert!(ended.contains("JobState=TIMEOUT"), "{ended}");
    let said = status(&folder);
    assert!(said.contains("done          4  2-5"), "{said}");
    assert!(said.contains("begun         2  1, 6"), "{said}");

    // What is open is submitted as status says, with the job that joins all.
    assert!(said.contains("--array=1,6 "), "{said}");
    let again = scheduler.submit(&["--array=1,6", &shares]);
    let after = format!("--dependency=afterany:{again}");
    scheduler.submit(&[&after, &gather]);
    scheduler.wait_for_all();
    let log = fs::read_to_string(at("logs/gather.txt")).unwrap();
    assert!(folder.path().join("array/result").is_dir(), "{log}");
    assert_same(&folder, "whole", "array/result");
    bendwise(&folder, &["status", "array"]).assert().success();
}
