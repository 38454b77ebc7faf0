//! An instructor begins a rubric, changes it, and is told what may no longer change.

use axum::http::StatusCode;
use shimlight::{
    domain::{
        ids::{PersonId, RubricId, SiteId},
        marking::{
            from_record::Source,
            mark::Mark,
            points::Points,
            rubric::{Level, Rubric},
        },
        people::actor::Role,
    },
    store,
};

use crate::app::{Client, TestApp};

async fn the_rubric(app: &TestApp) -> Rubric {
    let mut conn = app.state.store.read().await.expect("a reader");
    let site: SiteId = store::site::sites::find(&mut conn).await.expect("sites").expect("a site").id;
    store::marking::rubrics::list(&mut conn, site).await.expect("rubrics").pop().expect("one rubric")
}

/// The page's own values, as a browser would send them back.
fn as_shown(rubric: &Rubric) -> Vec<(String, String)> {
    let mut fields = vec![("version".to_owned(), rubric.version.to_string()), ("name".to_owned(), rubric.name.clone())];
    for (criterion, row) in rubric.criteria.iter().zip(1..) {
        fields.push((format!("criterion-{row}"), criterion.id.to_string()));
        fields.push((format!("name-{row}"), criterion.name.clone()));
        fields.push((format!("description-{row}"), criterion.description.clone()));
        fields.push((format!("max-{row}"), criterion.max.to_string()));
        let source = criterion.source.map_or("", |source| source.as_str());
        fields.push((format!("source-{row}"), source.to_owned()));
        if criterion.source == Some(Source::Hole) {
            fields.push((format!("within-{row}"), criterion.hole_within.as_percent().to_string()));
        }
        fields.push((format!("levels-{row}"), Level::lines(&criterion.levels)));
        fields.push((format!("place-{row}"), row.to_string()));
    }
    fields
}

fn with<'a>(shown: &'a [(String, String)], typed: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    let mut fields: Vec<(&str, &str)> = shown
        .iter()
        .map(|(name, value)| (name.as_str(), value.as_str()))
        .filter(|(name, _)| typed.iter().all(|(other, _)| other != name))
        .collect();
    fields.extend(typed);
    fields
}

async fn begin(instructor: &Client, name: &str) -> String {
    let page = instructor.saves("/front/rubrics", &[("name", name), ("begin_with", "ours")]).await;
    assert_eq!(page.text("h1"), name);
    page.attribute("form[action^='/front/rubrics/']", "action").expect("a form")
}

#[tokio::test]
async fn an_instructor_begins_with_our_set_and_makes_it_their_own() {
    let (app, _, instructor, _) = TestApp::with_open_session().await;
    let path = begin(&instructor, "First light").await;
    let rubric = the_rubric(&app).await;
    assert_eq!((rubric.criteria.len(), rubric.out_of()), (11, Points::from_milli(20_000)));

    let shown = as_shown(&rubric);
    let typed = [
        ("max-3", "4,5"),
        ("place-10", "1"),
        ("remove-5", "yes"),
        ("name-12", "Picture"),
        ("max-12", "2.5"),
        ("source-12", "exposure"),
        ("levels-12", "1: pale\n2,5: all tones"),
    ];
    let page = instructor.saves(&path, &with(&shown, &typed)).await;
    assert_eq!(page.attribute("#name-1", "value").as_deref(), Some("Report"));
    let after = the_rubric(&app).await;
    let names: Vec<&str> = after.criteria.iter().map(|it| it.name.as_str()).collect();
    assert_eq!(
        names,
        [
            "Report",
            "Own figures",
            "Hole",
            "Exposures",
            "Sheets written down",
            "Negative",
            "Contact print",
            "Safe hands",
            "Clean-up",
            "Report on time",
            "Picture"
        ]
    );
    let picture = after.criteria.last().expect("the last");
    assert_eq!(picture.source, Some(Source::Exposure));
    assert_eq!(Level::lines(&picture.levels), "2.5: all tones\n1: pale");
    assert_eq!(after.out_of(), Points::from_milli(23_000));
}

#[tokio::test]
async fn how_far_a_hole_may_lie_from_its_target_is_set_in_the_rubric() {
    let (app, _, instructor, _) = TestApp::with_open_session().await;
    let path = begin(&instructor, "First light").await;
    let shown = as_shown(&the_rubric(&app).await);
    assert_eq!(instructor.get(&path).await.attribute("#within-2", "value").as_deref(), Some("10"));
    for wrong in ["", "0", "80", "wide"] {
        let answer = instructor.post(&path, &with(&shown, &[("within-2", wrong)])).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{wrong}");
        assert!(!answer.error_beside("within-2").is_empty(), "{wrong}: {}", answer.text("main"));
    }
    instructor.saves(&path, &with(&shown, &[("within-2", "7,5")])).await;
    let hole = the_rubric(&app).await.criteria.remove(1);
    assert_eq!((hole.source, hole.hole_within.as_milli()), (Some(Source::Hole), 75));
    let assistant = app.staff(Role::Assistant, "Pat Lumen").await;
    assert!(assistant.get(&path).await.text("table").contains("within 7.5 %"));
}

#[tokio::test]
async fn two_criteria_may_swap_their_names() {
    let (app, _, instructor, _) = TestApp::with_open_session().await;
    let path = begin(&instructor, "First light").await;
    let shown = as_shown(&the_rubric(&app).await);
    instructor.saves(&path, &with(&shown, &[("name-6", "Contact print"), ("name-7", "Negative")])).await;
    let after = the_rubric(&app).await;
    assert_eq!((after.criteria[5].name.as_str(), after.criteria[6].name.as_str()), ("Contact print", "Negative"));
}

#[tokio::test]
async fn mistakes_get_a_message_beside_the_field_and_nothing_typed_is_lost() {
    let (app, _, instructor, _) = TestApp::with_open_session().await;
    let path = begin(&instructor, "First light").await;
    let rubric = the_rubric(&app).await;
    let shown = as_shown(&rubric);
    let typed = [
        ("name-1", "Negative"),
        ("max-2", "many"),
        ("max-4", "0"),
        ("place-6", "x"),
        ("name-12", "<b>Tone</b>"),
        ("levels-6", "good: sharp"),
    ];
    let answer = instructor.post(&path, &with(&shown, &typed)).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    for field in ["max-2", "max-4", "max-12"] {
        assert_eq!(
            answer.error_beside(field),
            "must be a number from 0.25 to 1000, with at most two decimals (4 or 3.5)",
            "{field}"
        );
    }
    assert!(answer.error_beside("place-6").contains("whole number"));
    assert!(answer.error_beside("levels-6").starts_with("“good: sharp”: the points must be"));
    assert_eq!(answer.attribute("#max-2", "value").as_deref(), Some("many"));
    assert_eq!(answer.attribute("#name-12", "value").as_deref(), Some("<b>Tone</b>"));
    assert_eq!(the_rubric(&app).await, rubric);

    let twice = instructor.post(&path, &with(&shown, &[("name-1", "negative")])).await;
    assert_eq!(twice.error_beside("name-6"), "another criterion of this rubric has this name");
}

#[tokio::test]
async fn two_rubrics_do_not_share_a_name_whatever_the_case() {
    let (_, _, instructor, _) = TestApp::with_open_session().await;
    begin(&instructor, "Écran").await;
    let answer = instructor.post("/front/rubrics", &[("name", "écran"), ("begin_with", "nothing")]).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(answer.error_beside("name"), "another rubric has this name");
    assert_eq!(answer.attribute("option[selected]", "value").as_deref(), Some("nothing"));
}

#[tokio::test]
async fn a_rubric_begun_from_another_has_its_criteria_but_not_its_life() {
    let (app, _, instructor, _) = TestApp::with_open_session().await;
    begin(&instructor, "First light").await;
    let first = the_rubric(&app).await;
    let id = first.id.to_string();
    let page = instructor.saves("/front/rubrics", &[("name", "Second light"), ("begin_with", &id)]).await;
    assert_eq!(page.attribute("#name-6", "value").as_deref(), Some("Negative"));
    let second = the_rubric(&app).await;
    assert_eq!(second.name, "Second light");
    assert!(second.criteria.iter().all(|it| first.criteria.iter().all(|other| other.id != it.id)));
}

#[tokio::test]
async fn an_edit_from_a_page_that_is_no_longer_true_shows_both_versions() {
    let (app, _, instructor, _) = TestApp::with_open_session().await;
    let path = begin(&instructor, "First light").await;
    let shown = as_shown(&the_rubric(&app).await);
    instructor.saves(&path, &with(&shown, &[("max-10", "5")])).await;
    let answer = instructor.post(&path, &with(&shown, &[("max-10", "6")])).await;
    assert_eq!(answer.status, StatusCode::CONFLICT);
    let differing = answer.text("tr.differs");
    assert!(differing.contains("Report, 6 points") && differing.contains("Report, 5 points"), "{differing}");
}

#[tokio::test]
async fn points_below_a_mark_already_given_are_refused_with_the_reason() {
    let (app, _, instructor, student) = TestApp::with_open_session().await;
    let path = begin(&instructor, "First light").await;
    let rubric = the_rubric(&app).await;
    let (session, student) = (app.the_evening().await.session, student.student.expect("a student"));
    let (criterion, marked_by, marked_at): (_, PersonId, _) =
        (rubric.criteria[2].id, app.state.mint(), app.state.now());
    app.write(move |tx| {
        Box::pin(async move {
            let points = Some(Points::from_milli(2_500));
            let (comment, evidence, reason) = (String::new(), String::new(), String::new());
            let mark = Mark {
                points,
                left_out: false,
                suggested: None,
                evidence,
                reason,
                comment,
                marked_by,
                marked_at,
                version: 1,
            };
            store::marking::marks::put_mark(tx, session, student, criterion, &mark).await?;
            Ok(String::new())
        })
    })
    .await;
    let shown = as_shown(&rubric);
    let answer = instructor.post(&path, &with(&shown, &[("max-3", "2"), ("levels-3", "")])).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(answer.error_beside("max-3"), "a mark of 2.5 was already given here; the points cannot be fewer");
    let answer = instructor.post(&path, &with(&shown, &[("remove-3", "yes")])).await;
    assert!(answer.error_beside("remove-3").starts_with("it has marks or comments already"));
    let answer = instructor.post(&format!("{path}/discard"), &[]).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
}

#[tokio::test]
async fn a_criterion_of_another_rubric_cannot_be_edited_through_this_one() {
    let (app, _, instructor, _) = TestApp::with_open_session().await;
    begin(&instructor, "A").await;
    let other = the_rubric(&app).await.criteria[0].id.to_string();
    let path = begin(&instructor, "B").await;
    let shown = as_shown(&the_rubric(&app).await);
    let answer = instructor.post(&path, &with(&shown, &[("criterion-1", &other), ("name-1", "Taken over")])).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
}

#[tokio::test]
async fn an_unused_rubric_is_discarded() {
    let (_, _, instructor, _) = TestApp::with_open_session().await;
    let path = begin(&instructor, "First light").await;
    let page = instructor.saves(&format!("{path}/discard"), &[]).await;
    assert!(page.text(".empty").starts_with("No rubric yet."));
    assert_eq!(instructor.get(&path).await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn an_assistant_reads_rubrics_and_cannot_change_them() {
    let (app, anon, instructor, student) = TestApp::with_open_session().await;
    let path = begin(&instructor, "First light").await;
    let assistant = app.staff(Role::Assistant, "Bo Tarn").await;
    let page = assistant.get(&path).await;
    assert_eq!(page.status, StatusCode::OK);
    assert_eq!(page.texts("tbody th").len(), 11);
    assert!(page.attribute(&format!("form[action='{path}']"), "method").is_none());
    assert_eq!(assistant.post(&path, &[("name", "Mine")]).await.status, StatusCode::FORBIDDEN);
    assert_eq!(student.get(&path).await.status, StatusCode::FORBIDDEN);
    assert_eq!(anon.get(&path).await.status, StatusCode::SEE_OTHER);
    let unknown: RubricId = app.state.mint();
    assert_eq!(assistant.get(&format!("/front/rubrics/{unknown}")).await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn without_a_site_the_page_says_where_to_begin() {
    let app = TestApp::new().await;
    let instructor = app.staff(Role::Instructor, "Ines Quarry").await;
    let page = instructor.get("/front/rubrics").await;
    assert_eq!(page.attribute(".empty a", "href").as_deref(), Some("/front/site"));
}
