//! What students do at the bench: cameras, holes, sheets, prints, reports.

use anyhow::Context;

use super::{
    people::{Seat, value_shown},
    stage::Stage,
    visitor::{Shown, Visitor},
};
use crate::{
    domain::ids::{ExposureId, LabSessionId},
    store::{camera::films, exposure::exposures},
};

/// How many stops more light than its card says this paper truly wants: what the sheets teach.
/// With it the can of 120 mm wants about eight seconds in full sun, as it is told of such cans
/// (common practice, no source).
const PAPER_WANTS: f64 = -1.2;

/// The light a sheet is made in.
#[derive(Clone, Copy, Debug)]
pub enum Light {
    /// A sky of the list, the sun behind the camera.
    Sky(&'static str),
    /// A meter's answer.
    Reading(&'static str),
}

impl Light {
    fn fields(self) -> [(&'static str, &'static str); 3] {
        match self {
            Self::Sky(sky) => [("sky", sky), ("sun", "front"), ("reading", "")],
            Self::Reading(reading) => [("sky", ""), ("sun", ""), ("reading", reading)],
        }
    }

    fn page(self) -> String {
        let query = form_urlencoded::Serializer::new(String::new()).extend_pairs(self.fields()).finish();
        format!("/bench/exposures?{query}")
    }
}

/// Registers a camera and records its hole.
pub async fn makes_camera(seat: &mut Seat, camera: &[(&str, &str)], hole: &[(&str, &str)]) -> anyhow::Result<()> {
    seat.at.fills_in("/bench/camera/new", "/bench/camera", camera).await?;
    if !hole.is_empty() {
        seat.at.fills_in("/bench/hole", "/bench/hole", hole).await?;
    }
    Ok(())
}

/// Takes a sheet outside for as long as the page says, brings it through the trays, and looks at
/// it in the light. `apart` is how far this sheet's light and hand were off from the usual, in
/// stops.
pub async fn exposes(
    stage: &Stage,
    seat: &mut Seat,
    light: Light,
    sheet: &str,
    apart: f64,
) -> anyhow::Result<ExposureId> {
    let shown = records(stage, seat, light, sheet).await?;
    stage.minutes_go_by(2);
    looks(stage, seat, &shown, apart).await
}

/// A sheet whose box leaks: kept, and no lesson to the forecast.
pub async fn spoils(stage: &Stage, seat: &mut Seat, light: Light, sheet: &str) -> anyhow::Result<()> {
    let shown = records(stage, seat, light, sheet).await?;
    stage.minutes_go_by(2);
    let fields = [("verdict", "too dark"), ("fault", "leak"), ("remark", "a black wedge from the corner of the lid")];
    seat.at.sends(&shown, &format!("{}/judge", shown.path), &fields).await?;
    Ok(())
}

/// A sheet recorded a second time by mistake, and taken back.
pub async fn records_twice(stage: &Stage, seat: &mut Seat, light: Light, sheet: &str) -> anyhow::Result<()> {
    let shown = records(stage, seat, light, sheet).await?;
    stage.minutes_go_by(1);
    let fields = [("why", "recorded twice")];
    seat.at.sends(&shown, &format!("{}/take-back", shown.path), &fields).await?;
    Ok(())
}

/// Records a sheet, made for as long as the page says; gives the page it leads to.
async fn records(stage: &Stage, seat: &mut Seat, light: Light, sheet: &str) -> anyhow::Result<Shown> {
    let page = seat.at.opens(&light.page()).await?;
    let time = value_shown(&page).with_context(|| format!("no time on {}", page.path))?;
    let made_at = stage.now();
    stage.minutes_go_by(9);
    let (page, developed_at) = (seat.at.opens(&light.page()).await?, stage.ago(3));
    let mut fields = vec![("made", time.as_str()), ("made_at", &made_at), ("sheet", sheet)];
    fields.extend(light.fields());
    if page.html.contains("name=\"developed\"") {
        fields.extend([("developed", "1"), ("developed_at", &developed_at)]);
    }
    // the forecast that stood on the page goes with the sheet
    let shown = page.html.split_once("name=\"shown\" value=\"").and_then(|(_, rest)| rest.split_once('"'));
    fields.extend(shown.map(|(shown, _)| ("shown", shown)));
    seat.at.sends(&page, "/bench/exposures", &fields).await
}

/// Says which film is in a body cap: the one on the shelf.
pub async fn names_the_film(stage: &Stage, seat: &mut Seat) -> anyhow::Result<()> {
    let shelf = films::list(&mut *stage.read().await?).await?;
    let film = shelf.first().context("film on the shelf")?.id.to_string();
    seat.at.fills_in("/bench/exposures", "/bench/exposures/film", &[("film", &film)]).await?;
    Ok(())
}

/// Says how the sheet came out: to the half stop, as people see it.
async fn looks(stage: &Stage, seat: &mut Seat, shown: &Shown, apart: f64) -> anyhow::Result<ExposureId> {
    let id: ExposureId = shown.id().parse().context("a sheet's page")?;
    let exposure = exposures::find(&mut *stage.read().await?, id).await?.context("the sheet is there")?;
    let off = (exposure.made_ms as f64 / exposure.base_ms as f64).log2();
    let wanted = ((PAPER_WANTS + apart - off) * 2.0).round() / 2.0;
    let stops = format!("{wanted}");
    let fields = if wanted == 0.0 {
        vec![("verdict", "right")]
    } else {
        vec![("verdict", "stops given"), ("stops", stops.as_str()), ("stops_by", "eye")]
    };
    seat.at.sends(shown, &format!("{}/judge", shown.path), &fields).await?;
    Ok(id)
}

/// Makes a contact print of a negative.
pub async fn prints(
    stage: &Stage,
    seat: &mut Seat,
    negative: ExposureId,
    seconds: &str,
    size: &str,
    verdict: &str,
) -> anyhow::Result<()> {
    let (made_at, developed_at) = (stage.now(), stage.now());
    stage.minutes_go_by(4);
    let (page, id) = (format!("/bench/prints?exposure={negative}"), negative.to_string());
    let fields = [
        ("exposure", id.as_str()),
        ("made", seconds),
        ("light", "15 W bulb, 1 m above"),
        ("sheet", size),
        ("made_at", &made_at),
        ("developed", "1"),
        ("developed_at", &developed_at),
        ("verdict", verdict),
    ];
    seat.at.fills_in(&page, "/bench/prints", &fields).await?;
    Ok(())
}

/// Puts a test strip through the trays.
pub async fn strip(stage: &Stage, seat: &mut Seat, size: &str) -> anyhow::Result<()> {
    let fields = [("what", "test strip"), ("size", size), ("sheets", "1"), ("developed_at", &stage.now())];
    seat.at.fills_in("/bench/chemistry", "/bench/chemistry", &fields).await?;
    Ok(())
}

/// Staff type in what stands on cards that came back filled in.
pub async fn types_in_cards(staff: &mut Visitor, session: &str, cards: &[(&str, &str)]) -> anyhow::Result<()> {
    let page = format!("{session}/filled-cards");
    staff.fills_in(&page, &page, cards).await?;
    Ok(())
}

/// Writes a report; `act` is `submit` to hand it in, or empty to keep a draft.
pub async fn reports(seat: &mut Seat, session: LabSessionId, act: &str, body: &str) -> anyhow::Result<()> {
    let path = format!("/bench/report/{session}");
    seat.at.fills_in(&path, &path, &[("body", body), ("act", act)]).await?;
    Ok(())
}
