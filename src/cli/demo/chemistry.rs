//! Baths and waste: mixed, set into the trays, read, retired, removed; all of it in the silver book.

use anyhow::Context;

use super::{care, setting::Setting, stage::Stage, visitor::Visitor};
use crate::{domain::stock::product::ProductKind, store::stock::products};

/// The containers, by their pages.
#[derive(Clone, Debug)]
pub struct Containers {
    pub spent_fixer: String,
    developer: String,
    pub first_rinse: String,
    pub scrap: String,
}

/// The baths in the tray line, by their pages.
#[derive(Clone, Debug)]
pub struct Baths {
    developer: String,
    fixer: String,
}

/// What was there before the book began is carried away; empty containers take its
/// place, beside an old one whose silver nobody knows.
pub async fn begin_the_book(stage: &Stage, setting: &Setting, staff: &mut Visitor) -> anyhow::Result<Containers> {
    let since = stage.ago(70 * 24 * 60);
    let old = [
        ("contents", "spent fixer"),
        ("capacity", "5 L"),
        ("hazards", "Irritates skin and eyes; harmful to water life. Holds silver."),
        ("place", "Steel cabinet, bottom"),
        ("already", "4400"),
        ("since", &since),
        ("silver", "9"),
        ("low", "4"),
        ("high", "14"),
    ];
    let old = sets_up(staff, &old).await?;
    care::recovers(stage, staff, &old).await?;
    tries_the_paper(stage, setting, staff, &old).await?;
    staff.fills_in(&old, &format!("{old}/full"), &[("happened_at", &stage.now())]).await?;
    stage.minutes_go_by(60);
    let removal = [
        ("carrier", "Brackwater Haulage (invented)"),
        ("destination", "Saltmarsh Silver Works (invented)"),
        ("reference", "BH-0417"),
        ("mass", "4.9"),
        ("to_reclaim_silver", "yes"),
        ("happened_at", &stage.now()),
    ];
    staff.fills_in(&old, &format!("{old}/remove"), &removal).await?;
    let today = stage.day(9)?.to_string();
    staff.fills_in(&old, &format!("{old}/copy-returned"), &[("on", &today)]).await?;
    let spent_fixer = [
        ("contents", "spent fixer"),
        ("capacity", "10 L"),
        ("hazards", "Irritates skin and eyes; harmful to water life. Holds silver."),
        ("place", "Steel cabinet, bottom"),
    ];
    let developer = [
        ("contents", "developer"),
        ("capacity", "20 L"),
        ("hazards", "Irritates skin and eyes; may cause an allergic skin reaction."),
        ("place", "Steel cabinet, top"),
    ];
    let first_rinse = [
        ("contents", "first rinse"),
        ("capacity", "20 L"),
        ("hazards", "Irritates skin and eyes; harmful to water life. Holds silver."),
        ("place", "Under the sink"),
    ];
    let scrap = [
        ("contents", "scrap film and paper"),
        ("capacity", "30 L"),
        ("hazards", "Holds silver."),
        ("place", "Beside the dry side"),
    ];
    let containers = Containers {
        spent_fixer: sets_up(staff, &spent_fixer).await?,
        developer: sets_up(staff, &developer).await?,
        first_rinse: sets_up(staff, &first_rinse).await?,
        scrap: sets_up(staff, &scrap).await?,
    };
    let found = [
        ("contents", "spent fixer"),
        ("capacity", "5 L"),
        ("hazards", "Irritates skin and eyes; harmful to water life. Holds silver."),
        ("place", "Steel cabinet, behind the others"),
        ("already", "2500"),
        ("since", &since),
        ("silver_unknown", "yes"),
    ];
    sets_up(staff, &found).await?;
    care::puts_away_a_mistake(staff).await?;
    Ok(containers)
}

/// The instructor tries the paper in a little fixer, which goes into the container that is then taken away.
async fn tries_the_paper(stage: &Stage, setting: &Setting, staff: &mut Visitor, into: &str) -> anyhow::Result<()> {
    let fixer = mixes(stage, setting, staff, ProductKind::Fixer, "300 mL").await?;
    stage.minutes_go_by(30);
    let id = into.rsplit('/').next().unwrap_or_default();
    let fields = [("measured", "290"), ("missing", ""), ("into", id), ("happened_at", &stage.now())];
    staff.fills_in(&fixer, &format!("{fixer}/retire"), &fields).await?;
    Ok(())
}

/// The strips of that day, typed in when their fixer has left the site: the instructor has to decide.
pub async fn types_in_the_first_strips(stage: &Stage, setting: &Setting, staff: &mut Visitor) -> anyhow::Result<()> {
    let strips = [
        ("line", setting.tray_line.to_string()),
        ("paper", setting.paper.to_string()),
        ("what", "test strip".to_owned()),
        ("sheets", "2".to_owned()),
        ("width", "90".to_owned()),
        ("height", "60".to_owned()),
        ("happened_at", stage.moment(9, "10:20")?.as_local_control(&stage.zone)),
    ];
    let strips: Vec<(&str, &str)> = strips.iter().map(|(name, value)| (*name, value.as_str())).collect();
    staff.fills_in("/front/chemistry/sheets", "/front/chemistry/sheets", &strips).await?;
    Ok(())
}

async fn sets_up(staff: &mut Visitor, fields: &[(&str, &str)]) -> anyhow::Result<String> {
    Ok(staff.fills_in("/front/waste/containers/new", "/front/waste/containers", fields).await?.path)
}

/// Mixes developer, stop bath and fixer and sets them into the tray line.
pub async fn mixes_all(stage: &Stage, setting: &Setting, staff: &mut Visitor) -> anyhow::Result<Baths> {
    let developer = mixes(stage, setting, staff, ProductKind::Developer, "2 L").await?;
    mixes(stage, setting, staff, ProductKind::StopBath, "2 L").await?;
    let fixer = mixes(stage, setting, staff, ProductKind::Fixer, "1.5 L").await?;
    Ok(Baths { developer, fixer })
}

/// Mixes what does not last from one session to the next; gives the fixer's page.
pub async fn mixes_fresh(stage: &Stage, setting: &Setting, staff: &mut Visitor) -> anyhow::Result<String> {
    mixes(stage, setting, staff, ProductKind::Developer, "2 L").await?;
    mixes(stage, setting, staff, ProductKind::Fixer, "1.5 L").await
}

/// Mixes one bath and sets it into its tray; what stood there is taken out.
async fn mixes(
    stage: &Stage,
    setting: &Setting,
    staff: &mut Visitor,
    kind: ProductKind,
    volume: &str,
) -> anyhow::Result<String> {
    let product = products::list(&mut *stage.read().await?)
        .await?
        .into_iter()
        // a developer for film alone is none for trays
        .find(|product| product.kind == kind && product.times.film_ms.is_none())
        .with_context(|| format!("no {} in the stockroom", kind.as_str()))?;
    let page = format!("/front/chemistry/mix?product={}", product.id);
    let fields = [("volume", volume), ("happened_at", &stage.now())];
    let batch = staff.fills_in(&page, "/front/chemistry/batches", &fields).await?.path;
    let place = format!("{} {}", setting.tray_line, kind.as_str());
    let fields = [("place", place.as_str()), ("happened_at", &stage.now())];
    staff.fills_in(&batch, &format!("{batch}/set-in"), &fields).await?;
    Ok(batch)
}

/// After a session: the fixer is read with silver estimating paper, then both are retired.
pub async fn retires(stage: &Stage, staff: &mut Visitor, baths: &Baths, into: &Containers) -> anyhow::Result<()> {
    let reading = [
        ("method", "silver estimating paper"),
        ("silver", "0.1"),
        ("low", "0"),
        ("high", "0.3"),
        ("happened_at", &stage.now()),
    ];
    staff.fills_in(&baths.fixer, &format!("{}/reading", baths.fixer), &reading).await?;
    stage.minutes_go_by(5);
    for (bath, container, measured) in
        [(&baths.fixer, &into.spent_fixer, "1420"), (&baths.developer, &into.developer, "1900")]
    {
        let id = container.rsplit('/').next().unwrap_or_default();
        let fields =
            [("measured", measured), ("missing", "carried off by sheets"), ("into", id), ("happened_at", &stage.now())];
        staff.fills_in(bath, &format!("{bath}/retire"), &fields).await?;
    }
    Ok(())
}

/// A mistake at the bench and its mirror: what was written off was no spill, and is taken back.
pub async fn takes_back(stage: &Stage, staff: &mut Visitor, from: &Containers) -> anyhow::Result<()> {
    let fields = [("loss", "spill"), ("volume", "60"), ("remark", "the funnel slipped"), ("happened_at", &stage.now())];
    staff.fills_in(&from.spent_fixer, &format!("{}/write-off", from.spent_fixer), &fields).await?;
    let book = staff.opens("/front/waste/book").await?;
    let page = book
        .html
        .split("href=\"")
        .filter_map(|rest| rest.split('"').next())
        .find(|href| href.starts_with("/front/waste/book/"))
        .context("the newest entry can be taken back")?
        .to_owned();
    stage.minutes_go_by(3);
    staff.fills_in(&page, &page, &[("why", "it ran into the catch tray and was poured back")]).await?;
    Ok(())
}
