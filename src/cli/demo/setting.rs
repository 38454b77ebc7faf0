//! Where the demo plays: an invented site, its stockroom, a section and its roster.

use jiff::tz::TimeZone;

use super::Ways;
use crate::{
    clock::World,
    domain::{
        actor::Role,
        ids::{AccountId, LabSessionId, PaperId, SectionId, SiteId, TrayLineId},
        lab_session::{LabSession, SessionState},
        paper::{Paper, PaperKind},
        section::Section,
        site::Site,
        student::Student,
    },
    secrets::Hasher,
    store::{self, Stamp, Store},
};

/// Roster number and name; invented.
const ROSTER: [(&str, &str); 4] =
    [("01", "Maren Oduya"), ("02", "Tomasz Lindqvist"), ("03", "Aiyana Prewitt"), ("12", "Noor Halvorsen")];

/// Builds it all and says how to enter.
pub async fn build(store: &Store, world: &World, hasher: &Hasher) -> anyhow::Result<Ways> {
    let (at, zone) = (world.now(), TimeZone::get("America/New_York")?);
    let password = "brass-needle-tray".to_owned();
    let hash = hasher.hash_password(&password, &world.chance).await;
    let account: AccountId = world.mint();
    let site = Site {
        id: world.mint::<SiteId>(),
        name: "Tidewater darkroom".to_owned(),
        place: "Ground floor, behind the wood shop".to_owned(),
        zone: zone.clone(),
        disposal_contact: String::new(),
        waste_title: String::new(),
        emergency_line: String::new(),
        silver_limit_ug_per_l: None,
        silver_limit_source: String::new(),
        version: 1,
    };
    let section = Section {
        id: world.mint::<SectionId>(),
        site: site.id,
        name: "Tidewater evening section".to_owned(),
        door_code: "TIDE42".to_owned(),
        walk_ins: false,
        version: 1,
    };
    let paper = Paper {
        id: world.mint::<PaperId>(),
        site: site.id,
        kind: PaperKind::Paper,
        name: "Resin-coated paper, 13 × 18 cm box".to_owned(),
        exposure_index_milli: 10_000,
        reciprocity_milli: 1_000,
        reciprocity_threshold_ms: 1_000,
        silver_ug_per_m2: 970_000,
        silver_low_ug_per_m2: 350_000,
        silver_high_ug_per_m2: 1_610_000,
        silver_source: "invented for the demo".to_owned(),
        carry_over_ul_per_m2: 35_000,
        remark: String::new(),
        version: 1,
    };
    let tray_line: TrayLineId = world.mint();
    let session = LabSession {
        id: world.mint::<LabSessionId>(),
        section: section.id,
        title: "First light".to_owned(),
        held_on: at.local(&zone).date(),
        hole_constant_milli: 1_900,
        wavelength_nm: 550,
        paper: paper.id,
        tray_line: Some(tray_line),
        rubric: None,
        report_task: "What did your second sheet teach you?".to_owned(),
        state: SessionState::Planned,
        version: 1,
    };
    let students: Vec<Student> = ROSTER
        .iter()
        .map(|(number, name)| Student {
            id: world.mint(),
            section: section.id,
            roster_number: (*number).to_owned(),
            name: (*name).to_owned(),
            email: String::new(),
            walk_in: false,
            joined_at: None,
            left_at: None,
            inches: false,
            version: 1,
        })
        .collect();
    let door_code = section.door_code.clone();
    let stamp = Stamp::server(world.mint(), at);
    store
        .write(stamp, move |tx| {
            Box::pin(async move {
                store::accounts::insert(tx, account, Role::Instructor, "instructor", "Ines Quarry", &hash, at).await?;
                store::sites::insert(tx, &site, at).await?;
                store::sections::insert(tx, &section, at).await?;
                store::papers::insert(tx, &paper).await?;
                store::tray_lines::insert(tx, tray_line, site.id, "By the sink").await?;
                store::lab_sessions::insert(tx, &session, at).await?;
                store::lab_sessions::update_state(tx, session.id, SessionState::Open { opened_at: at }).await?;
                for student in &students {
                    store::students::insert(tx, student, at).await?;
                }
                Ok("/".to_owned())
            })
        })
        .await?;
    Ok(Ways {
        sign_in_name: "instructor".to_owned(),
        password,
        door_code,
        newcomer: ("12".to_owned(), "Halvorsen".to_owned()),
    })
}
