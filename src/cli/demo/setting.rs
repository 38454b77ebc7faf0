//! Where the demo plays: an invented site, its stockroom, a section with its roster, a rubric.

use std::fmt::Write;

use anyhow::Context;

use super::{
    people::{ASSISTANT, DOOR_CODE, INSTRUCTOR, ROSTER},
    stage::Stage,
    visitor::Visitor,
};
use crate::{
    cli::serve::new_link,
    domain::{
        ids::{PaperId, RubricId, SectionId, TrayLineId},
        stock::product::ProductKind,
    },
    store::{
        baths::tray_lines,
        marking::rubrics,
        people::{accounts::LinkPurpose, sections},
        site::sites,
        stock::{papers, products},
    },
};

/// What the sessions are planned with.
#[derive(Clone, Copy, Debug)]
pub struct Setting {
    pub section: SectionId,
    pub paper: PaperId,
    pub tray_line: TrayLineId,
    pub rubric: RubricId,
}

/// The first start: the link on the screen makes the instructor's account.
pub async fn first_instructor(stage: &Stage, password: &str) -> anyhow::Result<Visitor> {
    let link = new_link(stage.store(), stage.world(), LinkPurpose::FirstInstructor, 1).await?;
    let mut instructor = stage.visitor();
    let fields = [
        ("display_name", INSTRUCTOR.1),
        ("sign_in_name", INSTRUCTOR.0),
        ("password", password),
        ("password_again", password),
        ("own", "1"),
    ];
    instructor.fills_in(&link, &link, &fields).await?;
    Ok(instructor)
}

/// Everything that is set up before the first session.
pub async fn set_up(stage: &Stage, instructor: &mut Visitor, assistants_password: &str) -> anyhow::Result<Setting> {
    site(stage, instructor).await?;
    stockroom(stage, instructor).await?;
    let fields = [
        ("display_name", ASSISTANT.1),
        ("sign_in_name", ASSISTANT.0),
        ("role", "assistant"),
        ("password", assistants_password),
        ("password_again", assistants_password),
    ];
    instructor.fills_in("/front/accounts", "/front/accounts", &fields).await?;
    section(instructor).await?;
    instructor.fills_in("/front/rubrics", "/front/rubrics", &[("name", "Pinhole evening")]).await?;
    let mut conn = stage.read().await?;
    let site = sites::find(&mut conn).await?.context("the site was set up")?;
    let first = |what: &'static str| move || format!("no {what} was set up");
    Ok(Setting {
        section: sections::list(&mut conn).await?.first().with_context(first("section"))?.id,
        paper: papers::list(&mut conn)
            .await?
            .iter()
            .find(|paper| paper.name.starts_with("Resin"))
            .with_context(first("paper"))?
            .id,
        tray_line: tray_lines::list(&mut conn).await?.first().with_context(first("tray line"))?.id,
        rubric: rubrics::list(&mut conn, site.id).await?.first().with_context(first("rubric"))?.id,
    })
}

/// The place is invented: a half degree where nothing in particular is, in the zone in which it is early in the
/// afternoon now.
async fn site(stage: &Stage, instructor: &mut Visitor) -> anyhow::Result<()> {
    let longitude = format!("{:.1}", stage.longitude);
    let fields = [
        ("name", "Quillmere darkroom"),
        ("place", "Ground floor, behind the wood shop"),
        ("time_zone", &stage.zone_name),
        ("latitude", "41.5"),
        ("longitude", &longitude),
        ("elevation", "400"),
        ("emergency_line", "the red telephone beside the door"),
        ("disposal_contact", "Safety office, extension 4410 (invented for this demo)"),
        ("waste_title", "Hazardous waste"),
        ("silver_limit", "5"),
        ("silver_limit_source", "letter of the safety office, invented for this demo"),
    ];
    instructor.fills_in("/front/site/edit", "/front/site", &fields).await?;
    let rule = [
        ("clock", "first drop"),
        ("span", "180"),
        ("unit", "days"),
        ("source", "letter of the safety office, invented for this demo"),
    ];
    instructor.fills_in("/front/site", "/front/site/rules", &rule).await?;
    Ok(())
}

async fn stockroom(stage: &Stage, instructor: &mut Visitor) -> anyhow::Result<()> {
    let line = [("tray_line_name", "By the sink"), ("places", "3")];
    instructor.fills_in("/front/stockroom", "/front/stockroom/tray-lines", &line).await?;
    // a tray line is there: the usual stock adds none of its own
    instructor.fills_in("/front/stockroom", "/front/stockroom/usual", &[]).await?;
    let mut conn = stage.read().await?;
    let papers = papers::list(&mut conn).await?;
    drop(conn);
    let resin = papers.iter().find(|paper| paper.name.starts_with("Resin")).context("the usual paper")?;
    // what this site believed at first; the sheets of both sessions teach it otherwise
    let path = format!("/front/stockroom/papers/{}", resin.id);
    instructor.fills_in(&path, &path, &[("exposure_index", "10")]).await?;
    read_the_bottles(stage, instructor).await
}

/// The usual stock leaves empty what differs from bottle to bottle; this lab has read its own.
async fn read_the_bottles(stage: &Stage, instructor: &mut Visitor) -> anyhow::Result<()> {
    let mut conn = stage.read().await?;
    let shelf = products::list(&mut conn).await?;
    drop(conn);
    for product in shelf {
        let (fibre, resin, open_hours, closed_days) = match product.kind {
            ProductKind::Developer => ("2", "4", "8", ""),
            ProductKind::StopBath => ("1", "1", "", ""),
            ProductKind::Fixer => ("1.8", "4.5", "168", "45"),
            _ => continue,
        };
        let path = format!("/front/stockroom/products/{}", product.id);
        let read = [
            ("capacity", fibre),
            ("rc_capacity", resin),
            ("tray_life", open_hours),
            ("bottle_life", closed_days),
            ("figures_from", "this lab’s bottles, invented for this demo"),
        ];
        instructor.fills_in(&path, &path, &read).await?;
    }
    Ok(())
}

async fn section(instructor: &mut Visitor) -> anyhow::Result<()> {
    let fields = [("name", "Quillmere afternoon section"), ("door_code", DOOR_CODE)];
    let section = instructor.fills_in("/front/sections/new", "/front/sections", &fields).await?;
    let mut rows = "roster_number,name,email_optional,user_identifier,class_identifier\n".to_owned();
    for (number, name) in ROSTER {
        // what the college’s own system calls them, invented; the last came too late to have one
        let user = if number == "13" { String::new() } else { format!("qm-{number}") };
        let _ = writeln!(rows, "{number},{name},,{user},quillmere-2026-a");
    }
    let (page, preview) = (format!("{}/roster/import", section.path), format!("{}/roster/preview", section.path));
    let preview = instructor.fills_in(&page, &preview, &[("rows", &rows)]).await?;
    instructor.sends(&preview, &page, &[]).await?;
    Ok(())
}
