//! Marks for the first session: some given back, some still in the making.

use anyhow::Context;

use super::{
    people::{INSTRUCTOR, sign_in},
    setting::Setting,
    stage::Stage,
    visitor::Visitor,
};
use crate::{
    domain::ids::{LabSessionId, StudentId},
    store::{
        camera::{cameras, holes},
        marking::rubrics,
        people::students,
    },
};

/// A student’s points for what is judged by eye, and a word on all.
struct ByEye {
    number: &'static str,
    points: &'static [(&'static str, &'static str)],
    comment: &'static str,
    give_back: bool,
}

const BY_EYE: [ByEye; 4] = [
    ByEye {
        number: "02",
        points: &[("Negative", "2.5"), ("Contact print", "2"), ("Safe hands", "1"), ("Report", "1.5")],
        comment: "The second sheet is the one to hang up.",
        give_back: true,
    },
    ByEye {
        number: "01",
        points: &[("Negative", "2"), ("Safe hands", "0.5"), ("Report", "1")],
        comment: "No print yet: there is still time in the second session.",
        give_back: false,
    },
    ByEye {
        number: "03",
        points: &[("Negative", "2.5"), ("Contact print", "1"), ("Safe hands", "1")],
        comment: "",
        give_back: false,
    },
    ByEye {
        number: "05",
        points: &[("Negative", "1.5"), ("Safe hands", "0.5")],
        comment: "Make the hole round before the next sheet.",
        give_back: false,
    },
];

/// Whom staff saw at the clean-up, and whose hole was round.
const CLEANED_UP: [(&str, &str); 5] = [("01", "yes"), ("02", "yes"), ("03", "yes"), ("04", "yes"), ("05", "no")];
const ROUND: [(i64, &str); 4] = [(1, "yes"), (2, "yes"), (3, "yes"), (4, "no")];
/// What an instructor says often.
const PHRASES: &str = "Mind the edges.\nWell counted.\nSay why, not only what.";

/// Notes what staff saw, takes what the record suggests, marks the rest by eye, and gives back what
/// is whole.
pub async fn first_session(
    stage: &Stage,
    setting: &Setting,
    session: LabSessionId,
    password: &str,
) -> anyhow::Result<()> {
    let mut instructor = sign_in(stage, INSTRUCTOR.0, password).await?;
    instructor.fills_in("/front/phrases", "/front/phrases", &[("phrases", PHRASES)]).await?;
    saw(stage, setting, session, &mut instructor).await?;
    let table = format!("/front/sessions/{session}/marks");
    instructor.fills_in(&table, &format!("{table}/take-suggestions"), &[]).await?;
    let rubric = rubrics::find(&mut *stage.read().await?, setting.rubric).await?.context("the rubric")?;
    for by_eye in BY_EYE {
        let path = format!("{table}/{}", student(stage, setting, by_eye.number).await?);
        let criterion = |name: &str| rubric.criteria.iter().find(|it| it.name == name).context("a criterion");
        let mut cells = Vec::with_capacity(by_eye.points.len());
        for (name, points) in by_eye.points {
            cells.push((format!("points-{}", criterion(name)?.id), *points));
        }
        let mut fields: Vec<(&str, &str)> = cells.iter().map(|(name, points)| (name.as_str(), *points)).collect();
        fields.push(("overall", by_eye.comment));
        instructor.fills_in(&path, &path, &fields).await?;
        if by_eye.give_back {
            instructor.fills_in(&path, &format!("{path}/give-back"), &[]).await?;
        }
    }
    Ok(())
}

async fn student(stage: &Stage, setting: &Setting, number: &str) -> anyhow::Result<StudentId> {
    let found = students::find_on_roster(&mut *stage.read().await?, setting.section, number).await?;
    Ok(found.with_context(|| format!("number {number} is on the roster"))?.id)
}

async fn saw(stage: &Stage, setting: &Setting, session: LabSessionId, instructor: &mut Visitor) -> anyhow::Result<()> {
    let mut noted: Vec<(String, &str)> = Vec::new();
    for (number, took_part) in CLEANED_UP {
        noted.push((format!("clean-{}", student(stage, setting, number).await?), took_part));
    }
    let mut conn = stage.read().await?;
    for camera in cameras::list_of_section(&mut conn, setting.section).await? {
        let seen = ROUND.iter().find(|(number, _)| *number == camera.number);
        if let (Some((_, round)), Some(hole)) = (seen, holes::find_latest(&mut conn, camera.id).await?) {
            noted.push((format!("round-{}", hole.id), *round));
        }
    }
    drop(conn);
    let fields: Vec<(&str, &str)> = noted.iter().map(|(name, word)| (name.as_str(), *word)).collect();
    let page = format!("/front/sessions/{session}/seen");
    instructor.fills_in(&page, &page, &fields).await?;
    Ok(())
}
