//! A section that is over: archived it can be read and not changed; forgotten, nothing in the file
//! names its people, while exposures and the silver book stay.

use axum::http::StatusCode;
use shimlight::store;

use crate::{
    app::{Client, Evening, TestApp},
    bench::{
        pictures::{a_jpeg, add_picture},
        sheets::{but, id_of, sheet_in_the_sun, with_box},
    },
    marking::with_rubric,
};

/// Words that would tell who was there: names, addresses, identifiers, and what people typed.
const TELLING: [&str; 22] = [
    "Zephyrine",
    "Quillfeather",
    "Ødegård-Nwosu",
    "zephyrine@example.org",
    "usr-quill-77",
    "cls-owl-3",
    "roster-zq-5",
    "Ask Zephyrine about the lid",
    "Marginalia of a fine print",
    "My uncle Balthazar held the lid",
    "Peregrine said it was fog",
    "4 7/8 in",
    "The reason was Balthazar",
    "balthazar-caption",
    "3/500 in",
    "Balthazar’s fourth needle",
    "wait for Balthazar by the sink",
    "Balthazar counted these",
    "Balthazar had the other box",
    "written twice by Peregrine",
    "the lamp Peregrine brought",
    "6 x 7 cm",
];

/// Words in the other places that take some: a call, a word to all, a count, a sheet left out, another
/// taken back, a print's lamp.
async fn leave_words_everywhere(student: &Client, instructor: &Client, evening: &Evening, exposure: &str) {
    let (session, paper) = (format!("/front/sessions/{}", evening.session), evening.paper.to_string());
    student.saves("/bench/call", &[("why", "Balthazar’s fourth needle")]).await;
    instructor.saves(&format!("{session}/floor/say"), &[("words", "wait for Balthazar by the sink")]).await;
    let count = [
        ("paper", paper.as_str()),
        ("size", "6 x 7 cm"),
        ("at_start", "50"),
        ("spoilt", "0"),
        ("remark", "Balthazar counted these"),
    ];
    instructor.saves(&format!("{session}/box"), &count).await;
    let leave = format!("/front/stockroom/papers/{paper}/leave-out");
    instructor.saves(&leave, &[("exposure", exposure), ("reason", "Balthazar had the other box")]).await;
    let twice = id_of(&student.saves("/bench/exposures", &sheet_in_the_sun("34", "right")).await);
    let why = [("version", "1"), ("why", "written twice by Peregrine")];
    student.saves(&format!("/bench/exposures/{twice}/take-back"), &why).await;
    let print = [
        ("exposure", exposure),
        ("paper", paper.as_str()),
        ("made", "8"),
        ("light", "the lamp Peregrine brought"),
        ("developed", "no"),
        ("sheet", "4x5in"),
        ("made_at", "2026-03-20T12:00"),
        ("verdict", ""),
        ("remark", ""),
    ];
    student.saves("/bench/prints", &print).await;
    student.saves("/bench/ways", &[]).await;
}

fn bytes_of(app: &TestApp) -> Vec<u8> {
    let path = app.state.store.path().to_owned();
    let mut all = std::fs::read(&path).expect("the file");
    for end in ["-wal", "-journal"] {
        let mut other = path.as_os_str().to_owned();
        other.push(end);
        all.extend(std::fs::read(other).unwrap_or_default());
    }
    all
}

fn told(bytes: &[u8]) -> Vec<&'static str> {
    let holds = |word: &&&str| bytes.windows(word.len()).any(|part| part == word.as_bytes());
    TELLING.iter().filter(holds).copied().collect()
}

/// Pages of an archived section say so and have no button or link that would be refused.
async fn offers_nothing(staff: &Client, evening: &Evening, kept: &str) {
    let (section, session) =
        (format!("/front/sections/{}", evening.section), format!("/front/sessions/{}", evening.session));
    let pages = ["", "/floor", "/marks", "/filled-cards", "/box", "/seen", "/asked", "/demonstration"];
    for path in [section.clone()].into_iter().chain(pages.map(|page| format!("{session}{page}"))) {
        let page = staff.get(&path).await;
        assert_eq!(page.status, StatusCode::OK, "{path}");
        let said = page.text("main");
        assert!(said.contains(&format!("This section is {kept}. Everything can be read")), "{path}: {said}");
        assert_eq!(page.texts("main form[method=post] button"), Vec::<String>::new(), "{path}");
        for words in ["Door code", "door code, ", "can still type in", "add students", "QUAY7", "Plan a session"] {
            assert!(!said.contains(words), "{path}: {words}: {said}");
        }
    }
    let front = staff.get("/front").await;
    assert_eq!(front.text("[aria-labelledby=section-1] .tag.closed"), kept);
    assert!(!front.text("main").contains("QUAY7"), "{}", front.text("main"));
}

#[tokio::test]
async fn an_archived_section_is_read_and_not_changed_and_comes_out_again() {
    let (app, instructor, student, marking) = with_rubric().await;
    with_box(&student).await;
    let evening = app.the_evening().await;
    let keeping = format!("/front/sections/{}/keeping", evening.section);
    let open = instructor.post(&format!("{keeping}/archive"), &[]).await;
    assert_eq!(open.status, StatusCode::UNPROCESSABLE_ENTITY, "a session is open");
    assert!(open.text(".wrong").contains("close it first"), "{}", open.text("main"));
    instructor.saves(&format!("/front/sessions/{}/close", evening.session), &[]).await;
    let page = instructor.saves(&format!("{keeping}/archive"), &[]).await;
    assert_eq!(page.text(".tag"), "archived");

    let report = format!("/bench/report/{}", evening.session);
    for path in ["/bench", "/bench/camera", "/bench/marks", report.as_str()] {
        let page = student.get(path).await;
        assert_eq!(page.status, StatusCode::OK, "{path}");
        assert!(page.text("main").contains("This section is archived."), "{path}");
    }
    let vask = student.student.expect("a student");
    let refused = [
        student.post("/bench/camera", &[("build", "box"), ("distance", "99"), ("width", "90"), ("height", "90")]).await,
        student.post(&report, &[("act", "save"), ("body", "More.")]).await,
        student.post("/bench/units", &[("units", "inch")]).await,
        marking.mark(&instructor, vask, &[("points", "Negative", "2")]).await,
        instructor.post(&format!("/front/sessions/{}/open", evening.session), &[]).await,
        instructor
            .post(
                &format!("/front/sections/{}/roster", evening.section),
                &[("roster_number", "99"), ("name", "New Face")],
            )
            .await,
        instructor
            .post(
                &format!("/front/sections/{}", evening.section),
                &[("name", "Other"), ("door_code", "OTHER"), ("version", "1")],
            )
            .await,
    ];
    for answer in refused {
        assert_eq!(answer.status, StatusCode::FORBIDDEN, "{}", answer.text("main"));
        assert!(answer.text("main").contains("this section is archived"), "{}", answer.text("main"));
    }
    assert_eq!(instructor.get(&marking.table()).await.status, StatusCode::OK);
    offers_nothing(&instructor, &evening, "archived").await;
    instructor.saves(&format!("{keeping}/take-out"), &[]).await;
    let session = instructor.get(&format!("/front/sessions/{}", evening.session)).await;
    assert!(session.attribute("form[action$='/open']", "action").is_some(), "offered again");
    let answer = marking.mark(&instructor, vask, &[("points", "Negative", "2")]).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text("main"));
}

#[tokio::test]
async fn forgotten_people_are_nowhere_in_the_file_and_the_lab_keeps_what_it_learned() {
    let (app, instructor, _, marking) = with_rubric().await;
    let evening = app.the_evening().await;
    let roster = "roster_number,name,email_optional,user_identifier,class_identifier\n\
                  roster-zq-5,Zephyrine Quillfeather,zephyrine@example.org,usr-quill-77,cls-owl-3\n";
    let base = format!("/front/sections/{}", evening.section);
    let preview = instructor.post(&format!("{base}/roster/preview"), &[("rows", roster)]).await;
    let fingerprint = preview.attribute("[name=fingerprint]", "value").expect("a fingerprint");
    instructor.saves(&format!("{base}/roster/import"), &[("rows", roster), ("fingerprint", &fingerprint)]).await;
    let joined = app.student(evening.section, "08", "Ødegård-Nwosu").await;
    let camera = [
        ("build", "box"),
        ("distance", "4 7/8 in"),
        ("width", "127"),
        ("height", "102"),
        ("remark", "Ask Zephyrine about the lid"),
    ];
    joined.saves("/bench/camera", &camera).await;
    let hole = [
        ("reading_1", "0.5"),
        ("reading_2", "0.5"),
        ("instrument", "0.01"),
        ("plate", "3/500 in"),
        ("remark", "Peregrine said it was fog"),
    ];
    joined.saves("/bench/hole", &hole).await;
    let sheet = but(
        sheet_in_the_sun("33", "right"),
        &[("developed", "yes"), ("developed_at", "2026-03-20T12:00"), ("remark", "Peregrine said it was fog")],
    );
    let exposure = id_of(&joined.saves("/bench/exposures", &sheet).await);
    let session = evening.session.to_string();
    add_picture(&joined, &session, &a_jpeg(), &exposure.to_string()).await;
    let report = format!("/bench/report/{session}");
    let page = joined.get(&report).await;
    let version = super::super::bench::sheets::version_of(&page, &report);
    joined
        .saves(&report, &[("act", "submit"), ("body", "My uncle Balthazar held the lid"), ("version", &version)])
        .await;
    leave_words_everywhere(&joined, &instructor, &evening, &exposure.to_string()).await;
    let who = joined.student.expect("a student");
    let typed = [
        ("points", "Negative", "3"),
        ("comment", "Negative", "Marginalia of a fine print"),
        ("overall", "", "The reason was Balthazar"),
    ];
    marking.mark(&instructor, who, &typed).await;
    instructor.saves(&format!("{}/give-back", marking.sheet(who)), &[]).await;
    marking.mark(&instructor, who, &[("points", "Negative", "4")]).await;
    let mut conn = app.state.store.read().await.expect("a reader");
    let marks = "SELECT count(*) FROM change_log WHERE detail LIKE '%points%'";
    let marks: i64 = sqlx::query_scalar(marks).fetch_one(&mut *conn).await.expect("a count");
    assert!(marks > 0, "the change log says what was given");
    drop(conn);
    instructor.saves(&format!("/front/sessions/{session}/close"), &[]).await;
    assert!(told(&bytes_of(&app)).len() >= 18, "they are all there before: {:?}", told(&bytes_of(&app)));
    let book = instructor.get("/front/exports/silver-book.csv").await.body;
    let forecast = instructor.get("/front/exports/exposures.csv").await.body;

    let keeping = format!("{base}/keeping");
    let early = instructor.post(&format!("{keeping}/forget"), &[("name", "x")]).await;
    assert_eq!(early.status, StatusCode::UNPROCESSABLE_ENTITY, "archived first");
    let page = instructor.saves(&format!("{keeping}/archive"), &[]).await;
    let promised = page.text("main");
    for words in [
        "3 people",
        "reports (1) and the pictures in them (1)",
        "lamps of prints (7 in all)",
        "exposures (2)",
        "all benches (2)",
        "Older backups still hold all of it.",
        "who wrote each entry: those of these people then say “forgotten”",
    ] {
        assert!(promised.contains(words), "{words}: {promised}");
    }
    let wrong = instructor.post(&format!("{keeping}/forget"), &[("name", "something")]).await;
    assert!(wrong.error_beside("name").starts_with("type the section’s name"), "{}", wrong.text("main"));
    let mut conn = app.state.store.read().await.expect("a reader");
    let name = store::people::sections::find(&mut conn, evening.section).await.expect("read").expect("a section").name;
    drop(conn);
    let page = instructor.saves(&format!("{keeping}/forget"), &[("name", &name)]).await;
    assert!(page.text(".tag").contains("people forgotten"));
    assert!(page.text("main").contains("The file was written anew 20 Mar 2026"), "{}", page.text("main"));
    offers_nothing(&instructor, &evening, "archived, its people forgotten").await;
    let marks = instructor.get(&format!("/front/sessions/{session}/marks")).await;
    assert!(marks.text("p.empty").contains("there is nobody to mark"), "{}", marks.text("main"));

    assert_eq!(told(&bytes_of(&app)), Vec::<&str>::new(), "nothing in the file tells who was there");
    assert_eq!(instructor.get("/front/exports/silver-book.csv").await.body, book, "the whole silver book stays");
    let after = instructor.get("/front/exports/exposures.csv").await.body;
    let numbers = |csv: &str| csv.lines().count();
    assert_eq!(numbers(&after), numbers(&forecast), "exposures stay, without their makers");
    let mut conn = app.state.store.read().await.expect("a reader");
    let found = store::engine::check::run(&mut conn).await;
    assert!(found.is_ok_and(|faults| faults.is_empty()), "both laws hold");
    let marks_left = "SELECT count(*) FROM change_log WHERE detail LIKE '%Negative%' OR detail LIKE '%points%'";
    let marks_left: i64 = sqlx::query_scalar(marks_left).fetch_one(&mut *conn).await.expect("a count");
    assert_eq!(marks_left, 0, "no mark is left in the change log either");
    let invented = "SELECT count(*) FROM exposure WHERE taken_back_why <> '' AND taken_back_at IS NULL";
    let invented: i64 = sqlx::query_scalar(invented).fetch_one(&mut *conn).await.expect("a count");
    assert_eq!(invented, 0, "no reason is invented for a sheet that was never taken back");
    drop(conn);
    assert_eq!(joined.get("/bench").await.status, StatusCode::SEE_OTHER, "their seat is gone");
    let again = instructor.post(&format!("{keeping}/take-out"), &[]).await;
    assert_eq!(again.status, StatusCode::UNPROCESSABLE_ENTITY, "it stays archived");
    for path in [base.clone(), marking.table(), format!("/front/sessions/{session}/floor")] {
        assert_eq!(instructor.get(&path).await.status, StatusCode::OK, "{path}");
    }
}

#[tokio::test]
async fn every_field_for_words_that_are_kept_warns_against_names() {
    let (app, _, instructor, student) = TestApp::with_open_session().await;
    with_box(&student).await;
    let sheet = id_of(&student.saves("/bench/exposures", &sheet_in_the_sun("33", "right")).await);
    let evening = app.the_evening().await;
    let session = format!("/front/sessions/{}", evening.session);
    let fields = [
        (&student, "/bench/hole".to_owned(), "remark"),
        (&student, "/bench/exposures".to_owned(), "remark"),
        (&student, format!("/bench/exposures/{sheet}"), "why"),
        (&student, "/bench/prints".to_owned(), "remark"),
        (&student, "/bench/prints".to_owned(), "light"),
        (&student, "/bench".to_owned(), "why"),
        (&instructor, format!("{session}/floor"), "words"),
        (&instructor, format!("{session}/box"), "remark"),
        (&instructor, format!("/front/stockroom/papers/{}/experience", evening.paper), "reason"),
    ];
    for (who, path, name) in fields {
        let page = who.get(&path).await;
        let field = page
            .attribute(&format!("[name={name}]"), "aria-describedby")
            .unwrap_or_else(|| panic!("{path} {name}: a hint; {}", page.text("main")));
        let hint = page.text(&format!("[id='{}']", field.split(' ').next().expect("an id")));
        assert!(hint.contains("no names of people"), "{path} {name}: {hint}");
    }
}

#[tokio::test]
async fn a_file_that_could_not_be_written_anew_is_said_so_and_written_later() {
    let (app, instructor, _, _) = with_rubric().await;
    let evening = app.the_evening().await;
    instructor.saves(&format!("/front/sessions/{}/close", evening.session), &[]).await;
    let keeping = format!("/front/sections/{}/keeping", evening.section);
    let name = instructor.get(&keeping).await.text(".note a");
    instructor.saves(&format!("{keeping}/archive"), &[]).await;
    // somebody reads an old state of the file, as a long export does, until the deed is done
    let mut reading = app.state.store.read().await.expect("a reader");
    sqlx::query("BEGIN").execute(&mut *reading).await.expect("begun");
    let _: i64 = sqlx::query_scalar("SELECT count(*) FROM student").fetch_one(&mut *reading).await.expect("a count");
    let page = instructor.saves(&format!("{keeping}/forget"), &[("name", &name)]).await;
    assert!(page.text("main").contains("the file could not be written anew then"), "{}", page.text("main"));
    let again = instructor.post(&format!("{keeping}/write-anew"), &[]).await;
    assert!(again.text(".wrong").contains("somebody reads at this moment"), "{}", again.text("main"));
    sqlx::query("COMMIT").execute(&mut *reading).await.expect("read");
    drop(reading);
    let page = instructor.saves(&format!("{keeping}/write-anew"), &[]).await;
    assert!(page.text("main").contains("The file was written anew"), "{}", page.text("main"));
    assert!(!page.text("main").contains("Write it anew now"));
}
