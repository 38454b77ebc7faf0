//! `shimlight calc`: JSON lines in, JSON lines out.

use std::fs::File;
use std::io::{self, BufRead, BufReader, Read, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::Args;

use crate::calc::cases::{LONGEST_LINE, answer, answer_to_long_line, list};

/// What `shimlight calc` is asked.
#[derive(Debug, Args)]
pub struct Options {
    /// A file of cases, one JSON object a line; - reads them from standard input
    #[arg(value_name = "FILE|-", required_unless_present = "list")]
    cases: Option<PathBuf>,
    /// Print the table of quantities: what each takes and gives, with units
    #[arg(long, conflicts_with = "cases")]
    list: bool,
}

/// Reads the cases, writes the answers to standard output. Exit code 0: every case had values; 1:
/// some had errors; 2: the input could not be read.
pub fn main(options: &Options) -> ExitCode {
    let output = io::stdout().lock();
    let outcome = match options.cases.as_deref() {
        None => return print_list(output),
        Some(file) if file == Path::new("-") => run(io::stdin().lock(), output),
        Some(file) => File::open(file).and_then(|file| run(BufReader::new(file), output)),
    };
    match outcome {
        Ok(outcome) => outcome.into(),
        // whoever reads our output has seen enough
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => ExitCode::SUCCESS,
        Err(error) => {
            let name = options.cases.as_deref().unwrap_or(Path::new("-")).display();
            eprintln!("shimlight: {name} cannot be read: {error}");
            ExitCode::from(2)
        }
    }
}

fn print_list(mut output: impl Write) -> ExitCode {
    match output.write_all(list().as_bytes()) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => ExitCode::from(2),
        _ => ExitCode::SUCCESS,
    }
}

/// How it went, when the input could be read to its end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// Every case had values.
    AllGood,
    /// Some cases had errors.
    SomeRefused,
}

impl From<Outcome> for ExitCode {
    /// 0 when every case had values, 1 when some had errors. (2 is for input that cannot be read: an
    /// `Err` of [`run`].)
    fn from(outcome: Outcome) -> Self {
        match outcome {
            Outcome::AllGood => Self::SUCCESS,
            Outcome::SomeRefused => Self::from(1),
        }
    }
}

/// Answers every line of `input`, in order, each as soon as it is read.
///
/// # Errors
/// When the input cannot be read or the output cannot be written.
pub fn run(mut input: impl BufRead, mut output: impl Write) -> io::Result<Outcome> {
    let mut outcome = Outcome::AllGood;
    let mut line = Vec::new();
    for number in 1.. {
        line.clear();
        // One byte more than allowed is enough to know; the rest of such a line is passed over.
        let most = LONGEST_LINE as u64 + 1;
        if input.by_ref().take(most).read_until(b'\n', &mut line)? == 0 {
            break;
        }
        let text = line.strip_suffix(b"\n").unwrap_or(&line);
        let answered = if text.len() > LONGEST_LINE {
            input.skip_until(b'\n')?;
            Some(answer_to_long_line(number))
        } else {
            answer(text, number)
        };
        if let Some(answered) = answered {
            if !answered.good {
                outcome = Outcome::SomeRefused;
            }
            writeln!(output, "{}", answered.json)?;
        }
    }
    output.flush()?;
    Ok(outcome)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn run_on(input: &[u8]) -> (Outcome, Vec<serde_json::Value>) {
        let mut output = Vec::new();
        let outcome = run(input, &mut output).unwrap();
        let lines = output.split(|b| *b == b'\n').filter(|line| !line.is_empty());
        (outcome, lines.map(|line| serde_json::from_slice(line).unwrap()).collect())
    }

    const GOOD: &str = r#"{"id":"a","quantity":"time_for_stops","given":{"time_s":8,"stops":1}}"#;

    #[test]
    fn a_bad_line_never_stops_the_rest() {
        let input = format!("{GOOD}\n\nnot json\n{{\"id\":\"b\"}}\n{GOOD}");
        let (outcome, answers) = run_on(input.as_bytes());
        assert_eq!(outcome, Outcome::SomeRefused);
        assert_eq!(answers.len(), 4);
        assert_eq!(answers[0]["values"]["time_s"], 16.0);
        assert_eq!(answers[1]["error"]["field"], "line 3");
        assert_eq!((&answers[2]["id"], &answers[2]["error"]["field"]), (&"b".into(), &"quantity".into()));
        assert_eq!(answers[3], answers[0]);
    }

    #[test]
    fn when_every_case_has_values_all_is_good() {
        assert_eq!(run_on(GOOD.as_bytes()).0, Outcome::AllGood);
        assert_eq!(run_on(b"\n \n").0, Outcome::AllGood);
    }

    #[test]
    fn a_line_without_end_is_refused_and_passed_over() {
        let mut input = vec![b' '; LONGEST_LINE + 5000];
        input.extend_from_slice(format!("\n{GOOD}\n").as_bytes());
        let (outcome, answers) = run_on(&input);
        assert_eq!(outcome, Outcome::SomeRefused);
        assert_eq!(answers[0]["error"]["field"], "line 1");
        assert_eq!(answers[1]["values"]["time_s"], 16.0);
    }
}
