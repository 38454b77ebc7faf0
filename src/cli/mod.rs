//! The command line.

use std::{path::PathBuf, process::ExitCode};

use clap::{Parser, Subcommand};

/// Prints a line. Nobody reading it any more (`shimlight serve | head`) is no reason to stop.
macro_rules! say {
    ($($line:tt)*) => {{
        use std::io::Write as _;
        drop(writeln!(std::io::stdout(), $($line)*));
    }};
}

mod addresses;
mod backup;
mod beside;
pub mod calc;
mod check;
mod database;
pub mod demo;
mod export;
mod faults;
mod health;
mod instructor;
mod kept_backups;
mod logging;
mod manifest;
mod rehearse;
mod restore;
pub mod scan;
mod scratch;
mod serve;
mod traces;

/// Shimlight: one server for a teaching darkroom.
///
/// Holes, exposures, chemistry, silver, waste and marks of a hands-on pinhole-camera lab section.
#[derive(Debug, Parser)]
#[command(name = "shimlight", version, max_term_width = 100)]
struct Line {
    /// The database file
    #[arg(long, global = true, value_name = "FILE", env = "SHIMLIGHT_DATABASE", default_value = "./shimlight.db")]
    database: PathBuf,
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Serve the pages; with nothing else given, on http://127.0.0.1:8080 from ./shimlight.db
    Serve(serve::Options),
    /// Make an invented section with people, cameras, exposures, chemistry and marks, and serve it
    Demo(demo::Options),
    /// Answer calculation cases, JSON line by JSON line
    Calc(calc::Options),
    /// Measure a hole, read a negative or a step strip from a scan
    Scan(scan::Options),
    /// Prove the database, or a backup, sound: the file, its rows, its references, and the silver book
    Check(check::Options),
    /// Write a consistent copy of the database, also while it is being served
    Backup(backup::Options),
    /// Put a backup in the database's place, after checking it; keeps the old file beside it
    Restore(restore::Options),
    /// Try out a restore: put the newest backup of a folder into a scratch folder, and check it there
    Rehearse(rehearse::Options),
    /// Write every CSV file without a browser
    Export(export::Options),
    /// Make an instructor's account, or a link for a forgotten password
    #[command(subcommand)]
    Instructor(instructor::Task),
    /// Ask a running server whether it is well (for a container's health check)
    #[command(hide = true)]
    Health(health::Options),
}

/// Reads the command line and does what it says. Exit code 0: done; 1: not done, or something was
/// found wrong; 2: the command line was not understood.
pub fn main() -> ExitCode {
    let Line { database, command } = Line::parse();
    // no runtime for what needs none: calculating, reading a scan, and a question that is asked every half minute
    match &command {
        Command::Calc(options) => return calc::main(options),
        Command::Scan(options) => return scan::main(options),
        Command::Health(options) => return health::run(options),
        _ => {}
    }
    logging::start();
    let runtime = match tokio::runtime::Builder::new_multi_thread().enable_all().build() {
        Ok(runtime) => runtime,
        Err(error) => {
            eprintln!("shimlight: cannot start: {error}");
            return ExitCode::FAILURE;
        }
    };
    let done = runtime.block_on(async {
        let database = database::resolved(&database)?;
        match command {
            Command::Serve(options) => serve::run(&database, options).await,
            Command::Demo(options) => demo::run(options).await,
            Command::Check(options) => check::run(&database, &options).await,
            Command::Backup(options) => backup::run(&database, &options).await,
            Command::Restore(options) => restore::run(&database, &options).await,
            Command::Rehearse(options) => rehearse::run(&database, &options).await,
            Command::Export(options) => export::run(&database, &options).await,
            Command::Instructor(task) => instructor::run(&database, task).await,
            Command::Calc(_) | Command::Scan(_) | Command::Health(_) => Ok(ExitCode::SUCCESS),
        }
    });
    done.unwrap_or_else(|error| {
        eprintln!("shimlight: {}", in_one_line(&error));
        ExitCode::FAILURE
    })
}

/// An error and its causes; a cause that is already told by the error above it is not told twice.
fn in_one_line(error: &anyhow::Error) -> String {
    let mut line = String::new();
    for cause in error.chain().map(ToString::to_string) {
        if !line.contains(&cause) {
            if !line.is_empty() {
                line.push_str(": ");
            }
            line.push_str(&cause);
        }
    }
    line
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_cause_is_told_twice() {
        let error = anyhow::anyhow!("the disk is full").context("cannot write: the disk is full").context("no backup");
        assert_eq!(in_one_line(&error), "no backup: cannot write: the disk is full");
    }

    #[test]
    fn the_command_line_is_well_formed() {
        use clap::CommandFactory;
        Line::command().debug_assert();
    }

    #[test]
    fn every_flag_has_its_environment_twin() {
        use clap::CommandFactory;
        let line = Line::command();
        // calculating and reading a scan are asked of a file at a time, not of a server
        let asked = ["calc", "scan"];
        for command in line.get_subcommands().filter(|command| !asked.contains(&command.get_name())) {
            let flags = command.get_arguments().filter(|flag| flag.get_long().is_some_and(|name| name != "help"));
            for flag in flags {
                let twin = flag.get_env().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
                assert!(twin.starts_with("SHIMLIGHT_"), "{} --{}", command.get_name(), flag.get_id());
            }
        }
    }
}
