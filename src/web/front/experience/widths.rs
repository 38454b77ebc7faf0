//! How wide the interval was after each sheet.

use crate::{
    calc::{
        light::{
            experience::{JudgedSheet, Spread, Taught},
            forecast::Z_80,
        },
        quantity::Seconds,
    },
    domain::{
        exposure::Exposure,
        ids::{CameraId, LabSessionId, SectionId},
        stock::paper::Paper,
    },
    drawing::narrowing::Width,
};

/// Up to so many sheets each has its place in the picture; beyond, every tenth: more would say no more.
const EACH_UP_TO: usize = 30;

/// The metered time that widths are given for: the middle one of the sheets', a second while there is none.
/// Where the reciprocity exponent is an unknown the interval depends on it.
pub fn usual_base(teaching: &[Exposure], paper: &Paper) -> Seconds {
    let mut bases: Vec<Seconds> = teaching.iter().map(|exposure| exposure.base_now(paper)).collect();
    bases.sort_by(|a, b| a.as_s().total_cmp(&b.as_s()));
    bases.get(bases.len() / 2).copied().unwrap_or_else(|| Seconds::from_millis(1_000))
}

/// The widths as the sheets of every section came in, for a camera not seen before in the newest session.
pub fn widths(teaching: &[Exposure], paper: &Paper) -> Vec<Width> {
    let session = teaching.last().map(|exposure| exposure.session);
    let base = usual_base(teaching, paper);
    (0..=teaching.len())
        .filter(|count| is_drawn(*count, teaching.len()))
        .map(|count| width(count, &teaching[..count], paper, session, base))
        .collect()
}

/// The widths as one section's sheets came in, for a camera not seen before in its newest session. What
/// other sections had taught of the paper by then counts from the beginning. Empty while the section
/// has no sheet that teaches.
pub fn widths_of_section(teaching: &[Exposure], paper: &Paper, section: SectionId) -> Vec<Width> {
    let own: Vec<usize> = (0..teaching.len()).filter(|at| teaching[*at].section == section).collect();
    let Some(last) = own.last() else { return Vec::new() };
    let (session, base) = (Some(teaching[*last].session), usual_base(teaching, paper));
    (0..=own.len())
        .filter(|count| is_drawn(*count, own.len()))
        .map(|count| {
            let seen = if count == 0 { own[0] } else { own[count - 1] + 1 };
            width(count, &teaching[..seen], paper, session, base)
        })
        .collect()
}

fn is_drawn(count: usize, last: usize) -> bool {
    count <= EACH_UP_TO || count.is_multiple_of(10) || count == last
}

fn width(sheets: usize, seen: &[Exposure], paper: &Paper, session: Option<LabSessionId>, base: Seconds) -> Width {
    let judged: Vec<JudgedSheet<LabSessionId, CameraId>> =
        seen.iter().filter_map(|exposure| exposure.judged_sheet(paper)).collect();
    let taught = Taught::of(&judged, paper.reciprocity(), paper.may_fit_exponent(), Spread::default());
    Width { sheets, half_stops: Z_80 * taught.for_new_camera(session.as_ref()).at(base).sd_stops }
}
