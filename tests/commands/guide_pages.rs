//! README and guide name files, tests and commands that exist.

use std::fs;
use std::path::{Path, PathBuf};

use bendwise::cli::Args;
use clap::Parser;

const COMMANDS: [&str; 13] = [
    "run", "sweep", "share", "status", "gather", "assay", "check", "view", "export", "schema",
    "steer", "lesson", "evidence",
];

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).to_owned()
}

/// Path and text of README and of every page of the guide.
fn pages() -> Vec<(PathBuf, String)> {
    let guide = fs::read_dir(root().join("src/guide")).expect("the guide");
    let mut paths: Vec<PathBuf> = guide
        .map(|entry| entry.expect("a file").path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "md"))
        .collect();
    paths.push(root().join("README.md"));
    paths.sort();
    let read = |path: PathBuf| {
        let text = fs::read_to_string(&path).expect("a page");
        (path, text)
    };
    paths.into_iter().map(read).collect()
}

/// What stands between backticks, and the lines of blocks of code.
fn code(text: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut in_block = false;
    for line in text.lines() {
        if line.starts_with("```") {
            in_block = !in_block;
        } else if in_block {
            found.push(line.to_owned());
        } else {
            found.extend(line.split('`').skip(1).step_by(2).map(str::to_owned));
        }
    }
    found
}

/// Targets of links: `](target)` and `[name]: target`.
fn targets(text: &str) -> Vec<&str> {
    let inline = text
        .split("](")
        .skip(1)
        .filter_map(|rest| rest.split(')').next());
    let named = text
        .lines()
        .filter(|line| line.starts_with('['))
        .filter_map(|line| line.split_once("]: "))
        .map(|(_, target)| target.trim());
    inline.chain(named).collect()
}

/// A command of the program, as its words, if `code` is one with arguments.
fn command(code: &str) -> Option<Vec<&str>> {
    let code = code.strip_prefix("cargo run --release -- ").unwrap_or(code);
    let mut words: Vec<&str> = code.split_whitespace().collect();
    if words.first() != Some(&"bendwise") {
        words.insert(0, "bendwise");
    }
    // A number that make or a shell puts in.
    for word in words.iter_mut().filter(|word| ["$*", "{}"].contains(*word)) {
        *word = "1";
    }
    (words.len() > 2 && COMMANDS.contains(&words[1])).then_some(words)
}

#[test]
fn links_lead_to_files() {
    for (path, text) in pages() {
        let folder = path.parent().expect("a folder");
        for target in targets(&text) {
            assert!(
                folder.join(target).exists(),
                "{}: {target} leads nowhere",
                path.display()
            );
        }
    }
}

#[test]
fn commands_are_understood_by_the_program() {
    let mut commands = 0;
    for (path, text) in pages() {
        for line in code(&text) {
            let Some(words) = command(&line) else {
                continue;
            };
            if let Err(error) = Args::try_parse_from(&words) {
                let help = error.kind() == clap::error::ErrorKind::DisplayHelp;
                assert!(help, "{}: {line}: {error}", path.display());
            }
            commands += 1;
        }
    }
    assert!(commands >= 30, "only {commands} commands were found");
}

/// Whether a file or folder of that name holds tests.
fn is_a_file_of_tests(name: &str) -> bool {
    let mut groups = fs::read_dir(root().join("tests")).expect("the tests");
    groups.any(|group| {
        let group = group.expect("a folder").path();
        group.join(format!("{name}.rs")).exists() || group.join(name).join("mod.rs").exists()
    })
}

#[test]
fn scenarios_and_tests_that_are_named_exist() {
    for (path, text) in pages() {
        for line in code(&text) {
            let words: Vec<&str> = line.split_whitespace().collect();
            for word in &words {
                let is_scenario = word.starts_with("scenarios/") && word.ends_with(".toml");
                assert!(
                    !is_scenario || root().join(word).exists(),
                    "{}: there is no {word}",
                    path.display()
                );
            }
            let behind_flag = words.windows(2).filter(|pair| pair[0] == "--test");
            for group in behind_flag.map(|pair| pair[1]) {
                let main = root().join("tests").join(group).join("main.rs");
                assert!(
                    main.exists(),
                    "{}: there is no test {group}",
                    path.display()
                );
            }
            let in_table = words.first().filter(|w| w.starts_with("validation_"));
            assert!(
                in_table.is_none_or(|name| is_a_file_of_tests(name)),
                "{}: there is no file of tests {line}",
                path.display()
            );
        }
    }
}

#[test]
fn every_page_is_declared_and_named_by_the_first_page() {
    let declared = fs::read_to_string(root().join("src/guide/mod.rs")).expect("the guide");
    let first = fs::read_to_string(root().join("src/guide/README.md")).expect("its first page");
    for (path, _) in pages() {
        let name = path.file_name().expect("a name").to_string_lossy();
        if name != "README.md" {
            assert!(declared.contains(&format!("\"{name}\"")), "{name}");
            assert!(first.contains(&format!("]: {name}")), "{name}");
        }
    }
}
