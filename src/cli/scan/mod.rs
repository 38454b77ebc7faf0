//! `shimlight scan`: what a scan of a hole, a negative or a step strip shows, as one JSON object.

mod answer;
mod curve_option;
mod preview;

use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::{Args, ValueEnum};

use crate::calc::imaging::sheet::Told;
use crate::calc::imaging::steps::StripTold;
use crate::calc::imaging::transfer::Transfer;
use crate::calc::imaging::{hole, sheet, steps};
use crate::calc::quantity::{ScanResolution, StopsPerStep};
use crate::scans::{self, Picture, Refusal, Refused};

use answer::{Answer, DpiFrom, Found};
use curve_option::CurveOption;

/// Fewer bands than two have no step between them; more than sixty nobody exposes.
const STEPS: std::ops::RangeInclusive<usize> = 2..=60;

/// What `shimlight scan` is asked.
#[derive(Debug, Args)]
pub struct Options {
    /// What was scanned
    kind: Kind,
    /// The picture: PNG, JPEG or TIFF, grey or RGB, 8 or 16 bit
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// Pixels to the inch, instead of what the file says
    #[arg(long, value_name = "N")]
    dpi: Option<f64>,
    /// The paper's curve and the scanner's codes, as JSON: {"d_max": 1.9, "iso_range": 110, "transfer": "srgb",
    /// "flare": 0, "base_reflectance": 0.85}, each as wanted
    #[arg(long, value_name = "JSON")]
    curve: Option<String>,
    /// How many bands a strip has
    #[arg(long, value_name = "N", requires = "stops_per_step")]
    steps: Option<usize>,
    /// How many stops each band has more than the one before
    #[arg(long, value_name = "S", requires = "steps")]
    stops_per_step: Option<f64>,
    /// Write a picture of what was found
    #[arg(long, value_name = "OUT.png")]
    preview: Option<PathBuf>,
}

/// What was scanned.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Kind {
    /// A plate with its hole
    Hole,
    /// Paper negatives
    Sheet,
    /// A strip exposed in known steps
    Steps,
}

impl Kind {
    const fn word(self) -> &'static str {
        match self {
            Self::Hole => "hole",
            Self::Sheet => "sheet",
            Self::Steps => "steps",
        }
    }
}

/// The options, checked.
struct Task {
    kind: Kind,
    dpi: Option<ScanResolution>,
    dpi_given: bool,
    curve: CurveOption,
    steps: usize,
    stops_per_step: Option<StopsPerStep>,
}

/// Reads the file and prints what was found. Exit code 0: read, whatever was found; 1: refused; 2: the command line was
/// not understood, or the preview could not be written.
pub fn main(options: &Options) -> ExitCode {
    let task = match Task::of(options) {
        Ok(task) => task,
        Err(wrong) => {
            eprintln!("shimlight: {wrong}");
            return ExitCode::from(2);
        }
    };
    let name = options.file.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    let (answer, preview) = match task.picture(&options.file) {
        Ok(picture) => task.answer(name, picture, options.preview.is_some()),
        Err(refused) => (Answer::refused(name, task.kind.word(), task.given_dpi(), refused), None),
    };
    eprintln!("{}", answer.in_words());
    let printed = writeln!(std::io::stdout(), "{}", answer.in_json());
    if let (Some(path), Some(preview)) = (&options.preview, preview)
        && let Err(error) = preview.and_then(|png| std::fs::write(path, png))
    {
        eprintln!("shimlight: {} cannot be written: {error}", path.display());
        return ExitCode::from(2);
    }
    drop(printed);
    if answer.is_refused() { ExitCode::FAILURE } else { ExitCode::SUCCESS }
}

impl Task {
    fn of(options: &Options) -> Result<Self, String> {
        let curve = options.curve.as_deref().map_or(Ok(CurveOption::default()), CurveOption::read)?;
        let stops_per_step = match (options.kind, options.steps, options.stops_per_step) {
            (Kind::Steps, Some(steps), Some(stops)) => {
                if !STEPS.contains(&steps) {
                    return Err(format!("steps must be from {} to {}", STEPS.start(), STEPS.end()));
                }
                Some(StopsPerStep::new(stops).map_err(|range| range.to_string())?)
            }
            (Kind::Steps, ..) => return Err("a strip needs --steps and --stops-per-step".to_owned()),
            (_, None, None) => None,
            _ => return Err("--steps and --stops-per-step belong to a strip".to_owned()),
        };
        if options.dpi.is_some_and(|dpi| !dpi.is_finite()) {
            return Err("--dpi must be a number".to_owned());
        }
        if options.preview.as_deref().is_some_and(|preview| same(preview, &options.file)) {
            return Err("the preview would overwrite the scan".to_owned());
        }
        Ok(Self {
            kind: options.kind,
            dpi: options.dpi.and_then(|dpi| ScanResolution::new(dpi).ok()),
            dpi_given: options.dpi.is_some(),
            curve,
            steps: options.steps.unwrap_or(0),
            stops_per_step,
        })
    }

    fn given_dpi(&self) -> Option<f64> {
        self.dpi.map(ScanResolution::as_dpi)
    }

    fn picture(&self, path: &Path) -> Result<Picture, Refused> {
        // the edge of a hole is taken on the codes as they are unless somebody says what they stand for
        let unsaid = if self.kind == Kind::Hole { Transfer::Linear } else { Transfer::Srgb };
        let picture = scans::read_file(path, self.curve.transfer.unwrap_or(unsaid))?;
        if self.kind == Kind::Hole && self.resolution(&picture).0.is_none() {
            let size = (picture.raster.width() as u32, picture.raster.height() as u32);
            return Err(Refused { why: Refusal::NoResolution, size: Some(size) });
        }
        Ok(picture)
    }

    /// What was given wins over what the file says, even when it cannot be true.
    fn resolution(&self, picture: &Picture) -> (Option<f64>, Option<DpiFrom>) {
        match (self.dpi_given, self.given_dpi(), picture.dpi) {
            (true, Some(dpi), _) => (Some(dpi), Some(DpiFrom::Given)),
            (false, _, Some(dpi)) => (Some(dpi), Some(DpiFrom::File)),
            _ => (None, None),
        }
    }

    fn answer(&self, name: String, picture: Picture, wanted: bool) -> (Answer, Option<std::io::Result<Vec<u8>>>) {
        let (dpi, dpi_from) = self.resolution(&picture);
        let raster = &picture.raster;
        let size = (raster.width() as u32, raster.height() as u32);
        let mut warnings = picture.warnings.clone();
        if self.dpi_given && self.dpi.is_none() {
            warnings.push("The resolution given cannot be true. It is not used.");
        }
        if dpi.is_none() {
            warnings.push("The resolution is not known. Lengths in mm cannot be told.");
        }
        let flare = self.curve.flare.map_or(0.0, |flare| flare.as_share());
        let base_reflectance = self.curve.base_reflectance.map(|base| base.as_share());
        let (found, cut, preview) = match (self.kind, self.stops_per_step) {
            (Kind::Hole, _) => {
                let found = hole::read(raster, dpi.unwrap_or(f64::NAN), self.curve.transfer.is_some());
                if found.hairs > 0 {
                    warnings.push("Something long and thin, or ragged all over, was left out: a hair, a scratch.");
                }
                let preview = wanted.then(|| preview::hole(raster, found.holes.first()));
                (Found::holes(&found.holes), found.cut, preview)
            }
            (Kind::Steps, Some(stops_per_step)) => {
                let told = StripTold { dpi, steps: self.steps, stops_per_step, flare, base_reflectance };
                let found = steps::read(raster, &told);
                if found.strips.iter().any(|strip| strip.misfit) {
                    warnings.push("The bands that are seen do not fit the number of steps given. Is it right?");
                }
                let preview = wanted.then(|| preview::whole(raster));
                (Found::strips(&found.strips), found.cut, preview)
            }
            _ => {
                let told = Told { dpi, curve: self.curve.paper(), known: self.curve.known(), flare, base_reflectance };
                let found = sheet::read(raster, &told);
                let preview = wanted.then(|| match found.sheets.first() {
                    Some(sheet) => preview::positive(&sheet.positive),
                    None => preview::whole(raster),
                });
                (Found::sheets(&found.sheets, &self.curve), found.cut, preview)
            }
        };
        (Answer::read(name, self.kind.word(), size, (dpi, dpi_from), warnings, (found, cut)), preview)
    }
}

/// Whether two paths name one file that is there.
fn same(a: &Path, b: &Path) -> bool {
    match (a.canonicalize(), b.canonicalize()) {
        (Ok(a), Ok(b)) => a == b,
        _ => false,
    }
}
