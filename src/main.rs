//! Command-line entry.

use std::process::ExitCode;

fn main() -> ExitCode {
    bendwise::cli::main()
}
