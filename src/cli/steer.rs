//! `bendwise steer`.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use clap::Args as Group;

use super::failure::Failure;
use super::say;
use super::setup;
use crate::hands::Made;
use crate::live::{LiveError, Session, SessionError, Stop, Worked, serve, write_study};
use crate::scenario::Scenario;
use crate::scenario::model::TechniqueSpec;
use crate::shown;
use crate::study::note;
use crate::technique::Loading;
use crate::trial::{Prepared, Strategy, strategies};

/// Arguments of `steer`.
#[derive(Debug, Clone, Group)]
pub struct SteerArgs {
    /// Scenario file (TOML)
    pub scenario: PathBuf,

    /// Folder for the session; it must not exist yet, be empty, or hold a session of the same scenario
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,

    /// Technique whose devices are used: its catheter, balloon, fold and sight [default: the first with a wire alone]
    #[arg(long, value_name = "NAME")]
    pub technique: Option<String>,

    /// Wire with which the trial begins [default: the first with a bent tip]
    #[arg(long, value_name = "NAME")]
    pub wire: Option<String>,

    /// Number of the trial whose draw of roll, friction and size is worked, from 0
    #[arg(long, value_name = "N", default_value_t = 0, value_parser = clap::value_parser!(u32).range(0..1_000_000))]
    pub trial: u32,

    /// Port of this machine on which the page is served [default: one that is free]
    #[arg(long, value_name = "N", default_value_t = 0, hide_default_value = true)]
    pub port: u16,
}

/// Serves a page on which a person works one trial of a scenario.
pub(super) fn steer(args: &SteerArgs) -> Result<(), Failure> {
    let loaded = setup::load(&args.scenario)?;
    let prepared = setup::prepare(&loaded)?;
    for warning in setup::warnings(&loaded.source, &loaded.warnings) {
        note(&format!("warning: {}, {warning}", args.scenario.display()));
    }
    let scenario = prepared.scenario();
    let strategy = chosen(args, scenario)?;
    let session = session(&prepared, &strategy, args.trial, &args.out)?;
    if let Err(cause) = write_study(&loaded, &args.out) {
        note(&format!(
            "warning: the scenario with the session is not written: {cause}"
        ));
    }
    let stop = Stop {
        worked: Worked {
            strategy,
            trial: args.trial,
            prepared: Arc::new(prepared),
        },
        session,
        title: String::new(),
        text: String::new(),
    };
    serve_until_stopped(vec![stop], args.port, &args.out, &stop_on_request())?;
    say(&format!(
        "the session is kept in {}; lay it beside the techniques of the study by\n  bendwise run {} --out DIR\n",
        args.out.display(),
        args.out.join(crate::live::STUDY_FILE).display()
    ))
}

/// Begins a session in a folder, or goes on with the one that is there.
pub(super) fn session(
    prepared: &Prepared,
    strategy: &Strategy,
    trial: u32,
    folder: &Path,
) -> Result<Session, Failure> {
    let scenario = prepared.scenario();
    let technique = &scenario.techniques[strategy.technique];
    let made = Made {
        scenario: scenario.name.clone(),
        scene: scenario.acting_hash(technique),
        seed: scenario.study.seed,
        trial,
        technique: technique.name.clone(),
        wire: scenario.wires[strategy.wire].name.clone(),
    };
    Session::open(folder, &made).map_err(|error| match error {
        SessionError::Folder { .. } | SessionError::Busy(_) => {
            Failure::Incomplete(miette::miette!("{error}"))
        }
        _ => Failure::Input(miette::miette!("{error}")),
    })
}

/// Serves sessions, says where, and returns once `stop` is raised.
pub(super) fn serve_until_stopped(
    stops: Vec<Stop>,
    port: u16,
    folder: &Path,
    stop: &AtomicBool,
) -> Result<(), Failure> {
    let earlier: usize = stops.iter().map(|s| s.session.movements().len()).sum();
    let is_one = stops.len() == 1;
    let mut said = Ok(());
    let done = serve(stops, port, stop, |served| {
        let goes_on = match earlier {
            0 => String::new(),
            count => format!(
                "it goes on after {}\n",
                shown::counted(count, "movement", "movements")
            ),
        };
        let kept = if is_one { "session is" } else { "sessions are" };
        said = say(&format!(
            "open this address in a browser of this machine:\n  {}\n{goes_on}the {kept} kept in {}; \
             Ctrl-C here ends it\n",
            served.address,
            folder.display()
        ));
    });
    done.map_err(|error| match error {
        LiveError::Port { .. } => Failure::Input(miette::miette!("{error}")),
        LiveError::System(_) => Failure::Incomplete(miette::miette!("{error}")),
    })?;
    said
}

/// The technique and the wire that are asked for.
fn chosen(args: &SteerArgs, scenario: &Scenario) -> Result<Strategy, Failure> {
    let techniques: Vec<&str> = scenario
        .techniques
        .iter()
        .map(|t| t.name.as_str())
        .collect();
    let wires: Vec<&str> = scenario.wires.iter().map(|w| w.name.as_str()).collect();
    let (simplest, bent) = easiest(scenario);
    let technique = named(
        "--technique",
        args.technique.as_deref(),
        &techniques,
        simplest,
    )?;
    let wire = named("--wire", args.wire.as_deref(), &wires, bent)?;
    if scenario.techniques[technique].plan.is_by_hand() {
        return Err(Failure::Input(miette::miette!(
            help = "give the technique with whose devices it was made",
            "technique {:?} is a recording, which has no devices of its own",
            techniques[technique]
        )));
    }
    let mut all = strategies(scenario).into_iter();
    let found = all.find(|s| (s.technique, s.wire) == (technique, wire));
    found.ok_or_else(|| Failure::Input(miette::miette!("the scenario has no such strategy")))
}

/// Technique and wire that are easiest to begin with: a wire alone without an aid, and one with a bend on its tip.
/// The first where there is no such one.
fn easiest(scenario: &Scenario) -> (usize, usize) {
    let is_plain = |technique: &TechniqueSpec| {
        let (needs, aids) = (technique.plan.needs(), &technique.aids);
        let has_aid =
            aids.balloon.is_some() || aids.exchange.is_some() || !aids.guide_aims.is_empty();
        let is_recorded = technique.plan.is_by_hand();
        needs.loading == Loading::Guide && needs.fold.is_none() && !has_aid && !is_recorded
    };
    let technique = scenario.techniques.iter().position(is_plain);
    let wire = scenario.wires.iter().position(|w| w.tip.primary.is_some());
    (technique.unwrap_or(0), wire.unwrap_or(0))
}

/// Index of a name; `first` where none is given.
fn named(
    option: &str,
    asked: Option<&str>,
    known: &[&str],
    first: usize,
) -> Result<usize, Failure> {
    let Some(asked) = asked else {
        return Ok(first);
    };
    let found = known.iter().position(|name| *name == asked);
    found.ok_or_else(|| {
        Failure::Input(miette::miette!(
            help = format!("the scenario has {}", shown::listed(known)),
            "{option} {:?} is not in the scenario",
            shown::cut(asked)
        ))
    })
}

/// Raised by Ctrl-C, a request to terminate, or the end of the terminal.
fn stop_on_request() -> Arc<AtomicBool> {
    let stop = Arc::new(AtomicBool::new(false));
    let raised = Arc::clone(&stop);
    // Where the system has a handler already, that one ends the program.
    let _ = ctrlc::set_handler(move || raised.store(true, Ordering::SeqCst));
    stop
}
