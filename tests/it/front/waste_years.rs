//! The year on paper: its statement, the disposal log by year, the silver book by pages.

use axum::http::StatusCode;
use shimlight::domain::{people::actor::Role, stock::product::ProductKind};

use super::{
    chemistry::{local_now, mixes, nothing_is_wrong},
    waste::{retires, sets_up, version},
};
use crate::app::TestApp;

#[tokio::test]
async fn a_year_ends_with_what_the_next_one_begins_with() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let keep = [
        ("keep_years", "3"),
        ("keep_source", "40 CFR 262.40"),
        ("turnover", "75"),
        ("turnover_source", "40 CFR 261.1(c)(8)"),
        ("version", "0"),
    ];
    instructor.saves("/front/site/waste", &keep).await;
    let can = sets_up(&instructor, "spent fixer", "irritant").await;
    let fixer = mixes(&instructor, ProductKind::Fixer, "2 L").await;
    retires(&instructor, &fixer, &can, "2 L", "").await;

    app.state.world.clock.forward_minutes(60 * 24 * 300);
    let instructor = app.staff(Role::Instructor, "Ines Quarry again").await;
    let more = mixes(&instructor, ProductKind::Fixer, "1 L").await;
    retires(&instructor, &more, &can, "1 L", "").await;
    let (at, stands) = (local_now(&instructor), version(&instructor, &can).await);
    let removal = [
        ("version", stands.as_str()),
        ("carrier", "Fell & Daughters (invented)"),
        ("destination", "Silver works, dock 4 (invented)"),
        ("reference", "FD-2027-3"),
        ("to_reclaim_silver", "yes"),
        ("happened_at", at.as_str()),
    ];
    instructor.saves(&format!("{can}/remove"), &removal).await;

    let years = instructor.get("/front/waste/years").await;
    assert_eq!(years.texts("tbody th"), ["2027", "2026"]);
    let first = instructor.get("/front/waste/years/2026").await;
    let row = first.texts("tbody tr").last().expect("all together").clone();
    assert!(row.contains("2000 mL"), "{row}");
    let second = instructor.get("/front/waste/years/2027").await;
    let cells = second.texts("main > div:nth-of-type(1) tbody tr:last-child td");
    let volumes: Vec<String> =
        cells.iter().take(8).map(|cell| cell.split(" mL").next().unwrap_or_default().to_owned()).collect();
    // start, generated, from other kinds, removed, recovered, discharged, written off, end
    assert_eq!(volumes, ["2000", "1000", "0", "3000", "0", "0", "0", "0"], "{cells:?}");
    let said = second.text("main");
    // 3 L of the 2 L that stood there at the start: 150 %
    assert!(said.contains("150 %: at least the 75 % entered") && said.contains("40 CFR 261.1(c)(8)"), "{said}");
    assert!(said.contains("FD-2027-3") && said.contains("14 Jan 2030"), "{said}");
    assert_eq!(instructor.get("/front/waste/years/2019").await.status, StatusCode::NOT_FOUND);

    let csv = instructor.get("/front/exports/year-statement.csv").await;
    assert_eq!(csv.status, StatusCode::OK, "{}", csv.body);
    let lines: Vec<&str> = csv.body.lines().collect();
    assert!(lines[0].starts_with("year,contents,start_ml,generated_ml,"), "{}", lines[0]);
    assert_eq!(lines.len(), 5, "two years, each its kind and all");
    assert!(lines[4].starts_with("2027,all,2000,1000,0,3000,0,0,0,0,"), "{}", lines[4]);

    let log = instructor.get("/front/waste/disposal-log").await;
    assert_eq!(log.text("h1"), "Disposal log 2027, Quayside darkroom");
    assert_eq!(log.texts("tbody tr").len(), 2);
    let older = instructor.get("/front/waste/disposal-log?year=2026").await;
    assert_eq!(older.texts("tbody tr").len(), 1);
    nothing_is_wrong(&app).await;
}

#[tokio::test]
async fn the_book_is_shown_by_pages_and_its_sums_are_those_of_all_of_it() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let fixer = mixes(&instructor, ProductKind::Fixer, "50 L").await;
    let at = local_now(&instructor);
    // a page holds two hundred
    for _ in 0..205 {
        let spill = [("loss", "spill"), ("volume", "10"), ("remark", "dripped"), ("happened_at", at.as_str())];
        let answer = instructor.post(&format!("{fixer}/write-off"), &spill).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER);
    }
    let page = instructor.get("/front/waste/book").await;
    assert!(page.text("main").contains("206 entries"), "{}", page.text("main p"));
    assert_eq!(page.texts("table tbody tr").len(), 3 + 200);
    assert!(page.text("table").contains("47.95 L"), "50 L less 205 × 10 mL: {}", page.text("table"));
    let older = page.attribute("a.go[href*=before]", "href").expect("older entries");
    let page = instructor.get(&older).await;
    assert_eq!(page.texts("table tbody tr").len(), 3 + 6);
    assert!(page.text("table").contains("47.95 L"), "the sums are of the whole book");
    assert!(page.attribute("a.go[href*=before]", "href").is_none());
    nothing_is_wrong(&app).await;
}

#[tokio::test]
async fn a_statement_handed_out_is_kept_as_given_and_the_page_says_what_later_entries_changed() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let can = sets_up(&instructor, "spent fixer", "irritant").await;
    let fixer = mixes(&instructor, ProductKind::Fixer, "2 L").await;
    retires(&instructor, &fixer, &can, "2 L", "").await;
    let year = "/front/waste/years/2026";
    let refused = instructor.post(&format!("{year}/hand-out"), &[("given_to", "")]).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    let page = instructor.saves(&format!("{year}/hand-out"), &[("given_to", "safety office")]).await;
    assert!(page.text("main").contains("given to safety office on 20 Mar 2026, 12:00 by Ines Quarry"));
    assert!(page.text("main").contains("it still says what the book says"), "{}", page.text("main"));

    app.state.world.clock.forward_minutes(60 * 24 * 30);
    let instructor = app.staff(Role::Instructor, "Ines Quarry again").await;
    let spill = [("loss", "spill"), ("volume", "500"), ("remark", "tipped"), ("happened_at", "2026-03-21T09:00")];
    instructor.saves(&format!("{can}/write-off"), &spill).await;
    let page = instructor.get(year).await;
    let said = page.text("main");
    assert!(said.contains("entries written since have changed it (3)"), "{said}");
    let changed = page.texts("tbody tr");
    let changed: Vec<&String> =
        changed.iter().filter(|row| row.contains("written off") || row.contains("end")).collect();
    assert!(changed.iter().any(|row| row.contains("0 mL") && row.contains("500 mL")), "{changed:?}");
    assert!(changed.iter().any(|row| row.contains("2000 mL") && row.contains("1500 mL")), "{changed:?}");

    let given = page.attribute("a[href*='given=']", "href").expect("as given");
    let as_given = instructor.get(&given).await;
    assert!(as_given.text("main").contains("As it was given to safety office"), "{}", as_given.text("main"));
    let end = |page: &crate::app::Answer| {
        page.texts("main > div > div:first-of-type tbody tr:last-child td").last().expect("the end").clone()
    };
    assert!(end(&as_given).starts_with("2000 mL") && end(&page).starts_with("1500 mL"), "{}", end(&as_given));
    // by day of knowledge: the spill of 21 March was written on 19 April
    let known = instructor.get(&format!("{year}?known=2026-04-18")).await;
    assert!(end(&known).starts_with("2000 mL"), "{}", known.text("main"));
    assert!(known.text("main").contains("As it was known at the end of 18 Apr 2026"));
    let known = instructor.get(&format!("{year}?known=2026-04-19")).await;
    assert!(end(&known).starts_with("1500 mL"), "{}", known.text("main"));
    assert_eq!(instructor.get(&format!("{year}?known=soon")).await.status, StatusCode::NOT_FOUND);
    nothing_is_wrong(&app).await;
}
