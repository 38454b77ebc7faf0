//! What the instructor does about experience: a box begun, a usual time, a demonstration, a sheet left out.

use anyhow::Context;

use super::{setting::Setting, stage::Stage, visitor::Visitor};
use crate::{
    domain::ids::LabSessionId,
    store::{exposure::exposures, stock::papers},
};

/// The boxes on the shelf: one begun, and a time that the instructor knows for the other paper.
pub async fn knows_the_papers(stage: &Stage, setting: &Setting, instructor: &mut Visitor) -> anyhow::Result<()> {
    let paper = format!("/front/stockroom/papers/{}", setting.paper);
    let fields = [("begun_at", stage.now()), ("remark", "emulsion 2207, invented".to_owned())];
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (*name, value.as_str())).collect();
    instructor.fills_in(&format!("{paper}/experience"), &format!("{paper}/boxes"), &fields).await?;
    let all = papers::list(&mut *stage.read().await?).await?;
    let fibre = all.iter().find(|paper| paper.name.starts_with("Fibre")).context("fibre paper on the shelf")?;
    let fibre = format!("/front/stockroom/papers/{}", fibre.id);
    let usual = [("f_number", "250"), ("sky", "full-sun"), ("sun", "front"), ("made", "25")];
    instructor.fills_in(&format!("{fibre}/experience"), &format!("{fibre}/usual-time"), &usual).await?;
    Ok(())
}

/// Shows how it is done, with a camera of the front bench, an hour before the others come.
pub async fn demonstrates(stage: &Stage, instructor: &mut Visitor, session: LabSessionId) -> anyhow::Result<()> {
    let page = format!("/front/sessions/{session}/demonstration");
    let camera = [
        ("build", "box"),
        ("distance", "128"),
        ("width", "127"),
        ("height", "102"),
        ("reading_1", "0.50"),
        ("reading_2", "0.50"),
    ];
    instructor.fills_in(&page, &format!("{page}/camera"), &camera).await?;
    let made_at = stage.now();
    stage.minutes_go_by(12);
    let developed_at = stage.ago(3);
    let sheet = [
        ("made", "15"),
        ("made_at", made_at.as_str()),
        ("sheet", "5x4in"),
        ("sky", "full-sun"),
        ("sun", "front"),
        ("developed", "yes"),
        ("developed_at", developed_at.as_str()),
        ("verdict", "right"),
    ];
    instructor.fills_in(&page, &page, &sheet).await?;
    Ok(())
}

/// A sheet on the wrong paper must not teach.
pub async fn leaves_one_out(stage: &Stage, setting: &Setting, instructor: &mut Visitor) -> anyhow::Result<()> {
    let teaching = exposures::list_teaching(&mut *stage.read().await?, setting.paper, 50).await?;
    let oldest = teaching.last().context("a sheet that teaches")?.id.to_string();
    let paper = format!("/front/stockroom/papers/{}", setting.paper);
    let fields = [("exposure", oldest.as_str()), ("reason", "loaded from last year’s box by mistake")];
    instructor.fills_in(&format!("{paper}/experience"), &format!("{paper}/leave-out"), &fields).await?;
    Ok(())
}
