//! `bendwise lesson`.

use std::fs;
use std::path::{Path, PathBuf};

use clap::{ArgAction, Args as Group};

use super::args::ComputeArgs;
use super::failure::Failure;
use super::run::print_page;
use super::scene_words::in_words;
use super::setup;
use super::steer::{serve_until_stopped, session};
use super::{say, say_stopped_of};
use crate::live::{Stop, Worked, write_study};
use crate::report::files;
use crate::report::lesson::{LessonResult, LessonShown, RESULT_FILE, page_body, sinks};
use crate::scenario::lesson::{LoadedLesson, load_lesson};
use crate::scenario::{ScenarioError, point_at};
use crate::study::lesson::{LessonError, LessonPage, LessonPages};
use crate::study::{self, Part, StudySetup, Task, build_fingerprint, note};
use crate::trial::run_trial;

/// Arguments of `lesson`.
#[derive(Debug, Clone, Group)]
pub struct LessonArgs {
    /// Lesson file (TOML)
    pub lesson: PathBuf,

    /// Folder for the lesson; it must not exist yet, be empty, or with --live hold this lesson
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,

    /// Serve the lesson on a page of this machine, with a wire in hand; sessions are kept in DIR-by-hand
    #[arg(long, action = ArgAction::SetTrue)]
    pub live: bool,

    /// Port of this machine on which it is served [default: one that is free]
    #[arg(
        long,
        value_name = "N",
        default_value_t = 0,
        hide_default_value = true,
        requires = "live"
    )]
    pub port: u16,

    /// How its trials are computed.
    #[command(flatten)]
    pub compute: ComputeArgs,
}

/// Builds a lesson, and serves it with the wire in hand where that is asked for.
pub(super) fn lesson(args: &LessonArgs) -> Result<(), Failure> {
    let opened = Opened::read(&args.lesson)?;
    let built = args.live.then(|| opened.built(&args.out)).flatten();
    if built.is_none() && !build(args, &opened)? {
        return Ok(());
    }
    if !args.live {
        return Ok(());
    }
    let built = built.or_else(|| opened.built(&args.out)).ok_or_else(|| {
        Failure::Incomplete(miette::miette!(
            "{} cannot be read back",
            args.out.join(RESULT_FILE).display()
        ))
    })?;
    live(args, &opened, &built)
}

/// Runs the trials and writes the lesson; false where it stopped as it was asked to.
fn build(args: &LessonArgs, opened: &Opened) -> Result<bool, Failure> {
    let Opened {
        lesson,
        pages,
        setup,
    } = opened;
    let first = &pages.pages[0];
    let (sections, _) = in_words(&first.loaded, &first.prepared, &[]);
    let name = lesson.source.path.file_name().unwrap_or_default();
    let own = (
        name.to_string_lossy().into_owned(),
        lesson.source.text.clone(),
    );
    let shown = LessonShown {
        sections,
        files: [own].into_iter().chain(files(&pages.base.source)).collect(),
    };
    let (sinks, broken) = sinks(lesson, pages, shown);
    let options = args.compute.options(&args.out);
    study::watch_for_interrupts();
    let compute = |task: Task, recorded: bool| {
        let page: &LessonPage = &pages.pages[task.strategy];
        let mut record = run_trial(&page.prepared, &page.strategy, task.trial, recorded);
        record
            .row
            .strategy
            .clone_from(&setup.strategies[task.strategy].name);
        record
    };
    let part = Part::whole(setup.clone());
    let stop = study::interrupted();
    let prepare = |_| -> Result<study::RunTrial<'_>, String> { Ok(Box::new(compute)) };
    let done = study::run_study(&part, &options, stop, &prepare, sinks);
    let done = done.map_err(|error| match broken.take() {
        Some(claim) => Failure::Input(point_at(
            &lesson.source,
            &claim.place,
            claim.to_string(),
            format!(
                "correct the sentence and its claim, or what the page changes; the trials are kept in {}, and \
                 the same command goes on with them",
                study::work_folder(&args.out).display()
            ),
        )),
        None => Failure::of_study(error),
    })?;
    if !done.complete {
        say_stopped_of(args.compute.quiet, &done, &part)?;
        return Ok(false);
    }
    print_page(&done.handed, &done.folder, args.compute.quiet)?;
    Ok(true)
}

/// Serves the pages, each with a session of its own.
fn live(args: &LessonArgs, opened: &Opened, built: &LessonResult) -> Result<(), Failure> {
    let folder = by_hand(&args.out);
    let mut stops = Vec::new();
    for (page, said) in opened.pages.pages.iter().zip(&built.pages) {
        let own = folder.join(said.slug());
        let session = session(&page.prepared, &page.strategy, 0, &own)?;
        if let Err(cause) = write_study(&page.loaded, &own) {
            note(&format!(
                "warning: the scenario with the session is not written: {cause}"
            ));
        }
        stops.push(Stop {
            worked: Worked {
                prepared: page.prepared.clone(),
                strategy: page.strategy.clone(),
                trial: 0,
            },
            session,
            title: said.title.clone(),
            text: page_body(said, built.trials).into_string(),
        });
    }
    // The trials before may have asked for this handler already, and there is one in a process.
    study::watch_for_interrupts();
    serve_until_stopped(stops, args.port, &folder, study::interrupted())?;
    say(&format!(
        "the sessions are kept in {}, a folder for each page\n",
        folder.display()
    ))
}

/// The folder of the sessions: beside the lesson, whose own folder holds what was built and nothing else.
fn by_hand(out: &Path) -> PathBuf {
    let mut name = out.as_os_str().to_owned();
    name.push("-by-hand");
    PathBuf::from(name)
}

/// A lesson that was read, with its pages.
pub(super) struct Opened {
    pub(super) lesson: LoadedLesson,
    pub(super) pages: LessonPages,
    pub(super) setup: StudySetup,
}

impl Opened {
    /// Reads a lesson and builds the scenario of each page.
    pub(super) fn read(path: &Path) -> Result<Self, Failure> {
        setup::expect_lesson(path)?;
        let lesson = load_lesson(path).map_err(|error| match error {
            ScenarioError::Unreadable { path, cause } => Failure::Input(miette::miette!(
                help = "give the path of a readable lesson file, for example scenarios/lessons/soft-tip.toml",
                "cannot read the lesson {}: {cause}",
                path.display()
            )),
            faulty @ ScenarioError::Faulty(_) => Failure::Input(faulty.into()),
        })?;
        let pages = LessonPages::read(&lesson).map_err(|error| faulty(&lesson, error))?;
        for warning in setup::warnings(&pages.base.source, &pages.base.warnings) {
            note(&format!(
                "warning: {}, {warning}",
                lesson.spec.scenario.display()
            ));
        }
        let setup = pages.setup(&lesson);
        Ok(Self {
            lesson,
            pages,
            setup,
        })
    }

    /// The lesson that stands in a folder, if this program has built it from the same files.
    fn built(&self, folder: &Path) -> Option<LessonResult> {
        let text = fs::read_to_string(folder.join(RESULT_FILE)).ok()?;
        let built: LessonResult = serde_json::from_str(&text).ok()?;
        let is_same = built.files_hash == self.pages.files_hash
            && built.build == build_fingerprint()
            && built.pages.len() == self.pages.pages.len();
        is_same.then_some(built)
    }
}

/// Points at the lesson where a fault stands there; a fault of the scenario alone is shown in that.
fn faulty(lesson: &LoadedLesson, error: LessonError) -> Failure {
    Failure::Input(match error {
        LessonError::Base(ScenarioError::Faulty(located)) => point_at(
            &lesson.source,
            &lesson.spec.scenario_place,
            format!("the scenario has a fault: {located}"),
            located.advice(),
        ),
        LessonError::Base(other) => point_at(
            &lesson.source,
            &lesson.spec.scenario_place,
            other.to_string(),
            "give the path of a scenario, counted from the lesson file".to_owned(),
        ),
        LessonError::At {
            place,
            reason,
            remedy,
        } => point_at(&lesson.source, &place, reason, remedy),
    })
}
