//! What the sessions ask besides the work: own figures, questions for the report, pictures in it.

use std::io::Cursor;

use anyhow::Context;
use image::{DynamicImage, GrayImage, ImageFormat, Luma};

use super::{people::Seat, stage::Stage, visitor::Visitor};
use crate::{
    domain::ids::{ExposureId, LabSessionId},
    store::marking::reports,
};

/// The questions of both sessions.
const QUESTIONS: [(&str, &str, &str); 2] = [
    ("What did you change from your first sheet to your second, and why?", "text", ""),
    ("How long would you leave it open next time, in full sun?", "number", "s"),
];

/// The instructor asks for these own figures and for the questions, with a time for the report.
pub async fn asks(instructor: &mut Visitor, session: LabSessionId, figures: &[&str], due: &str) -> anyhow::Result<()> {
    let page = format!("/front/sessions/{session}/asked");
    let mut fields: Vec<(String, String)> = vec![("due".to_owned(), due.to_owned())];
    for figure in figures {
        fields.push((format!("ask-{figure}"), "yes".to_owned()));
    }
    for ((words, kind, unit), row) in QUESTIONS.iter().zip(1..) {
        for (name, value) in [("words", words), ("kind", kind), ("unit", unit)] {
            fields.push((format!("{name}-{row}"), (*value).to_owned()));
        }
    }
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    instructor.fills_in(&page, &page, &fields).await?;
    Ok(())
}

/// A student gives a value of their own.
pub async fn works_out(seat: &mut Seat, figure: &str, answer: &str, unit: &str, working: &str) -> anyhow::Result<()> {
    let fields = [("figure", figure), ("answer", answer), ("unit", unit), ("working", working)];
    seat.at.fills_in("/bench/own-figures", "/bench/own-figures", &fields).await?;
    Ok(())
}

/// A student answers the report’s questions and hands it in, or keeps a draft.
pub async fn answers(
    stage: &Stage,
    seat: &mut Seat,
    session: LabSessionId,
    act: &str,
    (words, seconds): (&str, &str),
    body: &str,
) -> anyhow::Result<()> {
    let questions = reports::list_questions(&mut *stage.read().await?, session).await?;
    let field = |at: usize| questions.get(at).map(|it| format!("answer-{}", it.id)).context("a question");
    let (first, second) = (field(0)?, field(1)?);
    let path = format!("/bench/report/{session}");
    let fields = [(first.as_str(), words), (second.as_str(), seconds), ("body", body), ("act", act)];
    seat.at.fills_in(&path, &path, &fields).await?;
    Ok(())
}

/// A student puts a picture of a sheet into their report.
pub async fn shows(seat: &mut Seat, session: LabSessionId, sheet: ExposureId, caption: &str) -> anyhow::Result<()> {
    let page = format!("/bench/report/{session}");
    let fields = [("sheet", sheet.to_string()), ("caption", caption.to_owned())];
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (*name, value.as_str())).collect();
    seat.at.sends_picture(&page, &format!("{page}/pictures"), &fields, &negative()?).await
}

/// An invented paper negative: a dark sky, a pale fence, darker towards the corners as every hole
/// makes it.
fn negative() -> anyhow::Result<Vec<u8>> {
    let (width, height) = (480_u32, 360_u32);
    let tone = |x: u32, y: u32| {
        let (across, down) = (f64::from(x) / f64::from(width) - 0.5, f64::from(y) / f64::from(height) - 0.5);
        let fall_off = 1.0 - 0.9 * (across * across + down * down);
        let post = (f64::from(x) / 30.0).sin() > 0.6 && down > 0.02 && down < 0.3;
        let ground = down > 0.3 + 0.02 * (across * 9.0).cos();
        let negative = match (post, ground) {
            (true, _) => 0.86,
            (_, true) => 0.62,
            _ => 0.16 + 0.1 * (across * 5.0).sin().abs(),
        };
        Luma([((1.0 - (1.0 - negative) * fall_off) * 255.0).clamp(0.0, 255.0) as u8])
    };
    let mut bytes = Vec::new();
    DynamicImage::ImageLuma8(GrayImage::from_fn(width, height, tone))
        .write_to(&mut Cursor::new(&mut bytes), ImageFormat::Jpeg)?;
    Ok(bytes)
}
