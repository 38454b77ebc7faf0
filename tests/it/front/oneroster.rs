//! The marks in the college's own system: identifiers come with the roster, the bundle is checked
//! before it is given away.

use axum::http::{StatusCode, header};
use shimlight::{
    export::oneroster::{self, Given, check::faults},
    store,
};

use crate::{
    app::{Client, TestApp},
    marking::with_rubric,
};

async fn brings_in(app: &TestApp, instructor: &Client, rows: &str) -> String {
    let section = app.the_evening().await.section;
    let preview = instructor.post(&format!("/front/sections/{section}/roster/preview"), &[("rows", rows)]).await;
    assert_eq!(preview.status, StatusCode::OK, "{}", preview.text("main"));
    let fingerprint = preview.attribute("[name=fingerprint]", "value").expect("a fingerprint");
    let fields = [("rows", rows), ("fingerprint", fingerprint.as_str())];
    instructor.saves(&format!("/front/sections/{section}/roster/import"), &fields).await;
    preview.text("main")
}

const ROSTER: &str = "roster_number,name,email_optional,user_identifier,class_identifier\n\
                      07,Teodora Vask,,u-7,c-1\n08,Ola Brandt,,u-8,c-1\n09,\"Iva, Noor\",,u-9,c-2\n";

#[tokio::test]
async fn marks_go_out_as_a_bundle_that_keeps_the_standard() {
    let (app, instructor, student, marking) = with_rubric().await;
    let path = format!("/front/sessions/{}/exports/oneroster", marking.session);
    assert!(instructor.get(&path).await.text(".empty").contains("user identifier"));
    let said = brings_in(&app, &instructor, ROSTER).await;
    assert!(said.contains("2 added, 1 changed") && said.contains("another identifier"), "{said}");
    app.on_roster(app.the_evening().await.section, "10", "Uma Held").await;

    let mut conn = app.state.store.read().await.expect("a reader");
    let students = store::people::students::list(&mut conn, app.the_evening().await.section).await.expect("students");
    let brandt = students.iter().find(|it| it.roster_number == "08").expect("a student").id;
    let noor = students.iter().find(|it| it.roster_number == "09").expect("a student").id;
    let whole = [
        ("points", "Negative", "3.5"),
        ("points", "Contact print", "2"),
        ("points", "Report", "3"),
        ("overall", "", "=Sharp,\n\"well seen\""),
        ("standing", "", "late"),
    ];
    marking.mark(&instructor, student.student.expect("one"), &whole).await;
    // the print does not count: 6 of 7 is the same share of 10
    let part = [("points", "Negative", "4"), ("points", "Contact print", "–"), ("points", "Report", "2")];
    marking.mark(&instructor, brandt, &part).await;
    marking.mark(&instructor, noor, &[("standing", "", "excused")]).await;

    let bundle =
        oneroster::bundle(&mut conn, marking.session, &Given::default()).await.expect("read").expect("a bundle");
    assert_eq!(faults(&bundle.files), Vec::<String>::new());
    assert_eq!(bundle.left_out, ["10"]);
    let text = |name: &str| {
        let (_, bytes) = bundle.files.iter().find(|(file, _)| file == name).expect("a file");
        String::from_utf8(bytes.clone()).expect("text")
    };
    let results: Vec<Vec<String>> = csv::Reader::from_reader(text("results.csv").as_bytes())
        .records()
        .map(|record| record.expect("a record").iter().map(str::to_owned).collect())
        .collect();
    let of = |user: &str| results.iter().find(|row| row[4] == user).expect("a result");
    assert_eq!(of("u-7")[5..9], ["fully graded", "8.5", "2026-03-20", "'=Sharp, \"well seen\""]);
    assert_eq!(of("u-7")[13], "true", "late");
    assert_eq!(of("u-8")[5..7], ["fully graded", "8.57"]);
    assert_eq!(of("u-9")[5..7], ["exempt", ""]);
    assert_eq!(text("lineItems.csv").lines().count(), 3, "one for each class");
    let again =
        oneroster::bundle(&mut conn, marking.session, &Given::default()).await.expect("read").expect("a bundle");
    assert_eq!(again.zipped(), bundle.zipped(), "the same marks are the same bytes");

    let page = instructor.get(&path).await;
    assert!(page.text("main").contains("roster numbers 10"), "{}", page.text("main"));
    let zip = instructor.get(&format!("{path}.zip?academic_session=term-1&school=")).await;
    assert_eq!(zip.headers[header::CONTENT_TYPE], "application/zip");
    assert!(zip.body.starts_with("PK"));
    let wrong = instructor.get(&format!("{path}.zip?academic_session={}", "x".repeat(300))).await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(wrong.error_beside("academic_session").contains("at most 255"));
    assert_eq!(student.get(&path).await.status, StatusCode::FORBIDDEN);
}

#[tokio::test]
async fn a_oneroster_users_file_is_taken_as_a_roster() {
    let (app, _, instructor, _) = TestApp::with_open_session().await;
    let users = "sourcedId,status,dateLastModified,enabledUser,username,userIds,givenName,familyName,middleName,identifier,\
                 email,sms,phone,agentSourcedIds,grades,password,userMasterIdentifier,preferredGivenName,\
                 preferredMiddleName,preferredFamilyName,primaryOrgSourcedId,pronouns\n\
                 u-1,,,true,abrandt,,Olava,Brandt,,11,ola@example.org,,,,,,,Ola,,,,\n\
                 u-2,,,false,gone,,Gone,Away,,12,,,,,,,,,,,,\n\
                 u-3,,,true,inoor,,Iva,Noor,,,,,,,,,,,,,,\n";
    let said = brings_in(&app, &instructor, users).await;
    assert!(said.contains("2 added"), "{said}");
    let section = app.the_evening().await.section;
    let mut conn = app.state.store.read().await.expect("a reader");
    let students = store::people::students::list(&mut conn, section).await.expect("students");
    let known = store::people::students::list_identifiers(&mut conn, section).await.expect("identifiers");
    let of = |number: &str| {
        let student = students.iter().find(|it| it.roster_number == number).expect("on the roster");
        (student.name.clone(), student.email.clone(), known[&student.id].user.clone())
    };
    assert_eq!(of("11"), ("Ola Brandt".to_owned(), "ola@example.org".to_owned(), "u-1".to_owned()));
    assert_eq!(of("inoor"), ("Iva Noor".to_owned(), String::new(), "u-3".to_owned()));
    // what went in comes out again, in our own columns
    let out = instructor.get(&format!("/front/sections/{section}/exports/roster.csv")).await;
    assert!(out.body.starts_with("roster_number,name,email_optional,user_identifier,class_identifier\r\n"));
    assert!(out.body.contains("11,Ola Brandt,ola@example.org,u-1,\r\n"), "{}", out.body);
}
