//! What keeps a darkroom in order beside its baths: the shelf counted, the site's customs, containers
//! looked at, scrap and rinse collected, silver recovered, the box counted.

use anyhow::Context;

use super::{setting::Setting, stage::Stage, visitor::Visitor};
use crate::{
    domain::{ids::LabSessionId, stock::product::ProductKind},
    store::stock::{papers, products},
};

/// The shelf is counted and two cards are completed from bottle and box.
pub async fn counts_the_shelf(stage: &Stage, instructor: &mut Visitor) -> anyhow::Result<()> {
    let mut conn = stage.read().await?;
    let (papers, shelf) = (papers::list(&mut conn).await?, products::list(&mut conn).await?);
    drop(conn);
    let resin = papers.iter().find(|paper| paper.name.starts_with("Resin")).context("the usual paper")?;
    let path = format!("/front/stockroom/papers/{}", resin.id);
    instructor.fills_in(&path, &path, &[("sizes", "12x9cm 44\n5x4in 21")]).await?;
    for (kind, on_shelf) in
        [(ProductKind::Developer, "900"), (ProductKind::StopBath, "400"), (ProductKind::Fixer, "1000")]
    {
        let product = shelf.iter().find(|product| product.kind == kind).context("the usual product")?;
        let path = format!("/front/stockroom/products/{}", product.id);
        let fields = [("on_shelf", on_shelf), ("data_sheet", "red folder beside the door")];
        instructor.fills_in(&path, &path, &fields).await?;
    }
    let film_developer = [
        ("kind", "developer"),
        ("name", "Film developer, liquid (invented)"),
        ("parts", "1+9"),
        ("tray_life", "8"),
        ("time_film", "600"),
        ("at", "20"),
        ("factor", "2.4"),
        ("hazards", "Irritates skin and eyes. The bottle and its safety data sheet decide."),
        ("data_sheet", "red folder beside the door"),
        ("figures_from", "Invented for this demo. Read your bottle."),
    ];
    instructor.fills_in("/front/stockroom/products/new", "/front/stockroom/products", &film_developer).await?;
    Ok(())
}

/// What the safety office asks for, and what the whole site generates in a month.
pub async fn enters_customs(stage: &Stage, instructor: &mut Visitor) -> anyhow::Result<()> {
    let letter = "letter of the safety office, invented for this demo";
    let next = stage.day(-40)?.to_string();
    let customs = [
        ("look_every", "7"),
        ("look_source", letter),
        ("keep_years", "3"),
        ("keep_source", letter),
        ("next_removal", next.as_str()),
    ];
    instructor.fills_in("/front/site/waste", "/front/site/waste", &customs).await?;
    let month = stage.day(40)?.strftime("%Y-%m").to_string();
    let month = [("month", month.as_str()), ("nonacute", "62.5"), ("acute", "0"), ("source", letter)];
    instructor.fills_in("/front/site/waste", "/front/site/waste/months", &month).await?;
    Ok(())
}

/// Silver is recovered from a container before a carrier takes it, and its cartridge is changed.
pub async fn recovers(stage: &Stage, staff: &mut Visitor, container: &str) -> anyhow::Result<()> {
    let recovery = [
        ("means", "steel wool cartridge"),
        ("silver", "3.1"),
        ("before", "2.05"),
        ("after", "1.3"),
        ("measured_how", "silver estimating paper, before and after"),
        ("cartridge", "cartridge 2"),
        ("happened_at", &stage.now()),
    ];
    staff.fills_in(container, &format!("{container}/recover"), &recovery).await?;
    let cartridge = [
        ("cartridge", "cartridge 3"),
        ("old_went_to", "Saltmarsh Silver Works (invented), with the container"),
        ("happened_at", &stage.now()),
        ("remark", "it had let more through than it held back"),
    ];
    staff.fills_in("/front/waste/recovery", "/front/waste/recovery/cartridges", &cartridge).await?;
    Ok(())
}

/// One container was set up by mistake, and is put away.
pub async fn puts_away_a_mistake(staff: &mut Visitor) -> anyhow::Result<()> {
    let fields = [("contents", "stop bath"), ("capacity", "5 L"), ("hazards", "Irritates skin and eyes.")];
    let mistake = staff.fills_in("/front/waste/containers/new", "/front/waste/containers", &fields).await?.path;
    staff.fills_in(&mistake, &format!("{mistake}/put-away"), &[]).await?;
    Ok(())
}

/// After a session: the box is counted, a fogged sheet and the first rinse are collected, somebody looks.
pub async fn clears_up(
    stage: &Stage,
    setting: &Setting,
    staff: &mut Visitor,
    session: LabSessionId,
    (fixer, rinse, scrap): (&str, &str, &str),
) -> anyhow::Result<()> {
    let (page, paper) = (format!("/front/sessions/{session}/box"), setting.paper.to_string());
    for (size, at_start, at_end, spoilt, remark) in [
        ("12x9cm", "50", "44", "0", "one went as test strips"),
        ("5x4in", "25", "21", "1", "two were cut to 10 x 10 and 7 x 7 cm, one was fogged"),
    ] {
        let count = [
            ("paper", paper.as_str()),
            ("size", size),
            ("at_start", at_start),
            ("at_end", at_end),
            ("spoilt", spoilt),
            ("remark", remark),
        ];
        staff.fills_in(&page, &page, &count).await?;
    }
    let now = stage.now();
    let fogged = [
        ("paper", paper.as_str()),
        ("processed", "no"),
        ("size", "5x4in"),
        ("sheets", "1"),
        ("happened_at", now.as_str()),
    ];
    staff.fills_in(scrap, &format!("{scrap}/scrap"), &fogged).await?;
    let rinsed = [("volume", "1.2 L"), ("happened_at", now.as_str())];
    staff.fills_in(rinse, &format!("{rinse}/rinse"), &rinsed).await?;
    let look = [
        ("closed", "yes"),
        ("labelled", "yes"),
        ("sound", ""),
        ("remark", "a drop below the lid; wiped, lid tightened"),
        ("happened_at", now.as_str()),
    ];
    staff.fills_in(fixer, &format!("{fixer}/look"), &look).await?;
    Ok(())
}

/// A piece of film is timed in the fixer that stands in the tray.
pub async fn tests_clearing(stage: &Stage, staff: &mut Visitor, fixer: &str) -> anyhow::Result<()> {
    let test = [("fresh", "40"), ("now", "45"), ("happened_at", &stage.now())];
    staff.fills_in(fixer, &format!("{fixer}/clearing"), &test).await?;
    Ok(())
}
