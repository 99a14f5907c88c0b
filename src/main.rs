//! The program: without a command the app opens, the rest goes to the command line.

use std::process::ExitCode;

fn main() -> ExitCode {
    stilltank::cli::run(std::env::args_os())
}
