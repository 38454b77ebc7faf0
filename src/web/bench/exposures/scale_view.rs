//! The time for a light and the camera's sheets on one scale of stops.

use crate::{
    calc::{light::given_time::GivenTime, working::seconds_text},
    domain::{
        exposure::{
            Exposure, Judgement,
            starting_exposure::StartingExposure,
            verdict::{Fault, Verdict},
        },
        ids::CameraId,
        measure::{decimal, typed_seconds::exactly},
    },
    drawing::on_one_scale::{Asked, CameOut, OnOneScale, Said, Tried},
    lab::exposure::at_hand::Learned,
};

use crate::lab::exposure::words::result_words;

/// As many of the newest sheets are drawn.
const MOST_SHEETS: usize = 8;
/// Times nearer than this, in stops, are the same to a reader.
const ALIKE_STOPS: f64 = 0.05;
/// A result this near to right is right, thousandths of a stop: a verdict's own width is half a stop.
const RIGHT_MILLI: i64 = 250;

/// The drawing with what has to be said beside it.
pub struct ScaleView {
    /// The drawing.
    pub drawing: OnOneScale,
    /// How many sheets are drawn.
    pub drawn: usize,
    /// How many older ones of this camera on this paper are not.
    pub older: usize,
    /// Whether some were made in another light and stand where they would have been in this one.
    pub carried: bool,
}

impl ScaleView {
    /// The starting exposure with the sheets of a camera, newest first.
    pub fn of(start: &StartingExposure, learned: &Learned, sheets: &[Exposure], camera: CameraId) -> Self {
        let forecast = &start.forecast;
        let [low, high] = forecast.ends_text();
        let asked = Asked {
            time: Said { seconds: forecast.time.as_s(), words: forecast.practical.text.clone() },
            low: Said { seconds: forecast.low.as_s(), words: low },
            high: Said { seconds: forecast.high.as_s(), words: high },
        };
        let pieces =
            forecast.bracket.each_ref().map(|piece| Said { seconds: position(piece), words: piece.text.clone() });
        let of_camera: Vec<&Exposure> = sheets.iter().filter(|sheet| counts(sheet, learned, camera)).collect();
        let mut carried = false;
        let tried: Vec<Tried> = of_camera
            .iter()
            .take(MOST_SHEETS)
            .map(|sheet| {
                let here = start.carry_over(sheet, learned.paper());
                let elsewhere = here.made.stops_over(sheet.made()).abs() > ALIKE_STOPS;
                carried |= elsewhere;
                let made = exactly(sheet.made_ms);
                let (name, result) = (format!("Sheet {}, ", sheet.number), result_words(sheet));
                let (label, told) = if elsewhere {
                    let here = seconds_text(here.made.as_s());
                    (format!("{name}{here} here"), format!("{name}{made} ({here} here): {result}"))
                } else {
                    (format!("{name}{made}"), format!("{name}{made}: {result}"))
                };
                Tried {
                    label: format!("{label}: {}", short_result(sheet)),
                    told,
                    came_out: came_out(sheet.judgement),
                    made_s: here.made.as_s(),
                    right: here.right.map(|right| Said { seconds: right.as_s(), words: seconds_text(right.as_s()) }),
                }
            })
            .collect();
        Self {
            drawing: OnOneScale::of("on-one-scale", &asked, &pieces, &tried),
            drawn: tried.len(),
            older: of_camera.len() - tried.len(),
            carried,
        }
    }
}

/// Whether a sheet stands beside the time: made by a student in this camera on this paper, and not taken back.
fn counts(sheet: &Exposure, learned: &Learned, camera: CameraId) -> bool {
    sheet.camera == camera && sheet.paper == learned.paper().id && sheet.taken_back.is_none() && !sheet.demonstration
}

/// Where a piece lies: as it is counted, or where it really would lie when no hand can give it.
fn position(piece: &GivenTime) -> f64 {
    let counted = piece.seconds as f64;
    if piece.too_short { counted / piece.error_stops.exp2() } else { counted }
}

/// How it came out in few words: what spoiled it, else what was said of it.
fn short_result(sheet: &Exposure) -> String {
    let Some(judgement) = sheet.judgement else { return result_words(sheet) };
    match (judgement.fault, judgement.verdict, judgement.result) {
        (Some(Fault::Other), ..) => "spoiled".to_owned(),
        (Some(fault), ..) => fault.as_str().to_owned(),
        (None, Verdict::StopsGiven, Some((0, _))) => "right".to_owned(),
        (None, Verdict::StopsGiven, Some((milli, _))) => {
            let stops = decimal::written(milli.abs(), 3);
            format!("{stops} stops too {}", if milli > 0 { "pale" } else { "dark" })
        }
        (None, verdict, _) => verdict.as_str().to_owned(),
    }
}

fn came_out(judgement: Option<Judgement>) -> CameOut {
    let Some(judgement) = judgement.filter(|judgement| judgement.fault.is_none()) else {
        return CameOut::TellsNothing;
    };
    match (judgement.verdict, judgement.result) {
        (Verdict::AllWhite, _) => CameOut::NeededLonger,
        (Verdict::AllBlack, _) => CameOut::NeededShorter,
        (_, Some((milli, _))) if milli.abs() < RIGHT_MILLI => CameOut::Right,
        (_, Some((milli, _))) if milli > 0 => CameOut::NeededLonger,
        (_, Some(_)) => CameOut::NeededShorter,
        (_, None) => CameOut::TellsNothing,
    }
}
