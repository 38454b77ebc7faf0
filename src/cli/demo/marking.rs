//! Marks for the first session: some given back, some still in the making.

use anyhow::Context;

use super::{
    people::{INSTRUCTOR, sign_in},
    setting::Setting,
    stage::Stage,
    visitor::Visitor,
};
use crate::{
    domain::{ids::LabSessionId, rubric::Rubric},
    store::{rubrics, students},
};

/// Points for the criteria in order, and a word on all; `-` is not marked yet.
const MARKS: [(&str, [&str; 6], &str, bool); 4] = [
    ("02", ["4", "4", "3.5", "3", "2", "3"], "The second sheet is the one to hang up.", true),
    ("01", ["3", "3", "2.5", "-", "2", "2"], "No print yet: there is still time in the second session.", false),
    ("03", ["4", "3", "3", "2", "2", "-"], "", false),
    ("05", ["2.5", "3", "3", "-", "1.5", "-"], "Make the hole round before the next sheet.", false),
];

/// Marks what was handed in, and gives back what is whole.
pub async fn first_session(
    stage: &Stage,
    setting: &Setting,
    session: LabSessionId,
    password: &str,
) -> anyhow::Result<()> {
    let mut instructor = sign_in(stage, INSTRUCTOR.0, password).await?;
    let rubric = rubrics::find(&mut *stage.read().await?, setting.rubric).await?.context("the rubric")?;
    for (number, points, comment, give_back) in MARKS {
        let student = students::find_on_roster(&mut *stage.read().await?, setting.section, number)
            .await?
            .with_context(|| format!("number {number} is on the roster"))?;
        let path = format!("/front/sessions/{session}/marks/{}", student.id);
        marks(&mut instructor, &path, &rubric, &points, comment).await?;
        if give_back {
            instructor.fills_in(&path, &format!("{path}/give-back"), &[]).await?;
        }
    }
    Ok(())
}

async fn marks(
    instructor: &mut Visitor,
    path: &str,
    rubric: &Rubric,
    points: &[&str],
    comment: &str,
) -> anyhow::Result<()> {
    let cells: Vec<(String, &str)> = rubric
        .criteria
        .iter()
        .zip(points)
        .filter(|(_, points)| **points != "-")
        .map(|(criterion, points)| (format!("points-{}", criterion.id), *points))
        .collect();
    let mut fields: Vec<(&str, &str)> = cells.iter().map(|(name, points)| (name.as_str(), *points)).collect();
    fields.push(("overall", comment));
    instructor.fills_in(path, path, &fields).await?;
    Ok(())
}
