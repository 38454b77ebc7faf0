//! The floor in the middle of an evening: sheets on their way, a call for help, a word to all.

use anyhow::Context;

use super::{people::Seat, stage::Stage, visitor::Visitor};

/// A sheet of the seat's camera goes to these places, some minutes apart.
pub async fn goes(stage: &Stage, seat: &mut Seat, places: &[&str]) -> anyhow::Result<()> {
    let mut shown = seat.at.fills_in("/bench", "/bench/ways", &[]).await?;
    for place in places {
        stage.minutes_go_by(3);
        let form = shown.html.split("action=\"").skip(1).find_map(|rest| {
            let action = rest.split('"').next()?;
            action.starts_with("/bench/ways/").then(|| action.to_owned())
        });
        let form = form.context("the bench has a form for the sheet")?;
        shown = seat.at.sends(&shown, &form, &[("to", place)]).await?;
    }
    Ok(())
}

/// Asks somebody to come.
pub async fn calls(seat: &mut Seat, why: &str) -> anyhow::Result<()> {
    seat.at.fills_in("/bench", "/bench/call", &[("why", why)]).await?;
    Ok(())
}

/// Says something to all benches.
pub async fn says(staff: &mut Visitor, session: &str, words: &str) -> anyhow::Result<()> {
    staff.fills_in(&format!("{session}/floor"), &format!("{session}/floor/say"), &[("words", words)]).await?;
    Ok(())
}
